"""Reads of the list of runs, in a number of queries that does not grow with the runs."""

from __future__ import annotations

from typing import Any

from django.db.models import Min, OuterRef, Q, Subquery, Sum

from takeoff.runs.models import Measurement, Run, Section
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet


def run_list(site: Site) -> SiteQuerySet[Any]:
    """Return the runs of a site with the drawn centre line, the length measured last, and the next planned day."""
    drawn = Section.objects.of(site).filter(run=OuterRef("pk")).order_by().values("run")
    measured = Measurement.objects.of(site).filter(run=OuterRef("pk"), section_seq=None).order_by("-at", "-pk")
    return (
        Run.objects.of(site)
        .select_related("cable")
        .prefetch_related("stages")
        .annotate(
            drawn=Subquery(drawn.annotate(total=Sum("length")).values("total")),
            built=Subquery(measured.values("length")[:1]),
            next_planned=Min("stages__planned", filter=Q(stages__done=None)),
        )
        .order_by("name")
    )
