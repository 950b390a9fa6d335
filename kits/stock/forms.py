"""Filters of the stock pages."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import Q, QuerySet
from django.forms import CheckboxInput

from kits.stock.pages import LISTED
from takeoff.catalogue.models import Item
from takeoff.sites.models import Place, Site


class StockFilter(django_filters.FilterSet):
    """Narrow the list of items."""

    q = django_filters.CharFilter(method="search", label="Search")
    group = django_filters.ChoiceFilter(label="Group", empty_label="any")
    here = django_filters.BooleanFilter(method="only_here", label="Only what is here", widget=CheckboxInput)

    class Meta:
        model = Item
        fields: list[str] = []

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        groups = Item.objects.of(site).exclude(group="").order_by("group").values_list("group", flat=True).distinct()
        self.filters["group"].extra["choices"] = [(group, group) for group in groups]

    def search(self, items: QuerySet[Item], _name: str, text: str) -> QuerySet[Item]:
        """Find the text in codes, descriptions, groups and suppliers' part numbers."""
        columns = ("code", "description", "group", "supplier_part")
        found = Q()
        for column in columns:
            found |= Q(**{f"{column}__icontains": text})
        return items.filter(found)

    def only_here(self, items: QuerySet[Any], _name: str, only: bool) -> QuerySet[Any]:
        """Leave out what is not on site."""
        return items.filter(good__gt=0) if only else items


KINDS = [(kind, Place.Kind(kind).label) for kind in LISTED]


class PlaceFilter(django_filters.FilterSet):
    """Narrow the list of places."""

    q = django_filters.CharFilter(field_name="name", lookup_expr="icontains", label="Search")
    kind = django_filters.ChoiceFilter(choices=KINDS, label="Kind", empty_label="any")

    class Meta:
        model = Place
        fields: list[str] = []
