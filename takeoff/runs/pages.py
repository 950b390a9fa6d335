"""Reads of the list of runs, in a number of queries that does not grow with the runs."""

from __future__ import annotations

from typing import Any

from django.db.models import Case, F, Min, OuterRef, Q, Subquery, Sum, When
from django.db.models.functions import Coalesce

from takeoff.runs.models import Measurement, Run, Section
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet


def run_list(site: Site) -> SiteQuerySet[Any]:
    """
    Return the runs of a site with the drawn centre line, the length as built, and the next planned day.

    As built goes by the latest measurements, as `latest_measurements` reads them for one run: a run measured as a whole
    counts until one of its sections is measured after it; then the sections count, as drawn where not measured.
    """
    sections = Section.objects.of(site).filter(run=OuterRef("pk")).order_by()
    measured = Measurement.objects.of(site).order_by("-at", "-pk")
    whole = measured.filter(run=OuterRef("pk"), section_seq=None)
    by_section = measured.filter(run=OuterRef("pk"), section_seq__isnull=False)
    of_section = measured.filter(run=OuterRef("run"), section_seq=OuterRef("seq")).values("length")[:1]
    return (
        Run.objects.of(site)
        .select_related("cable")
        .prefetch_related("stages")
        .annotate(
            drawn=Subquery(sections.values("run").annotate(total=Sum("length")).values("total")),
            whole_at=Subquery(whole.values("at")[:1]),
            section_at=Subquery(by_section.values("at")[:1]),
            built=Case(
                When(
                    Q(section_at__isnull=False) & (Q(whole_at=None) | Q(section_at__gt=F("whole_at"))),
                    then=Subquery(
                        sections.annotate(built=Coalesce(Subquery(of_section), F("length")))
                        .values("run")
                        .annotate(total=Sum("built"))
                        .values("total")
                    ),
                ),
                default=Subquery(whole.values("length")[:1]),
            ),
            next_planned=Min("stages__planned", filter=Q(stages__done=None)),
        )
        .order_by("name")
    )
