"""Filters of the list of runs."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import Q, QuerySet

from takeoff.catalogue.models import Cable, VoltageClass
from takeoff.runs.models import Run
from takeoff.sites.models import Site, StageName


class RunFilter(django_filters.FilterSet):
    """Narrow the list of runs."""

    q = django_filters.CharFilter(method="search", label="Search")
    cable = django_filters.ModelChoiceFilter(label="Cable", empty_label="any")
    location = django_filters.ChoiceFilter(choices=Run.Location, empty_label="any")
    voltage_class = django_filters.ChoiceFilter(choices=VoltageClass, label="Voltage", empty_label="any")
    open_stage = django_filters.ChoiceFilter(
        choices=StageName, method="with_open_stage", label="Still to do", empty_label="anything"
    )

    class Meta:
        model = Run
        fields: list[str] = []

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        self.filters["cable"].queryset = Cable.objects.of(site).order_by("code")

    def search(self, runs: QuerySet[Run], _name: str, text: str) -> QuerySet[Run]:
        """Find the text in names, equipment, description, crew or drawing."""
        columns = ("name", "from_equipment", "to_equipment", "description", "crew", "revision")
        found = Q()
        for column in columns:
            found |= Q(**{f"{column}__icontains": text})
        return runs.filter(found)

    def with_open_stage(self, runs: QuerySet[Run], _name: str, stage: str) -> QuerySet[Run]:
        """Leave out the runs whose stage is done."""
        done = Run.objects.of(self.site).filter(stages__stage=stage, stages__done__isnull=False)
        return runs.exclude(pk__in=done.values("pk"))
