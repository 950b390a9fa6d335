"""Filters of the stock pages."""

from __future__ import annotations

from typing import Any

import django_filters
from django import forms
from django.db.models import Q, QuerySet
from django.forms import CheckboxInput

from kits.promises.models import Kit
from kits.stock.pages import LISTED
from kits.stock.places import DEFAULT_BIN
from takeoff.catalogue.models import Item
from takeoff.database.folding import folded
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


class BinForm(forms.Form):
    """Whom a bin serves, and its number on the walk."""

    kit: forms.ModelChoiceField[Kit] = forms.ModelChoiceField(
        None,
        required=False,
        label="Serves",
        empty_label="every run",
        help_text="What lies in it is for the run of that kit.",
    )
    walk = forms.IntegerField(
        min_value=1,
        max_value=9999,
        required=False,
        label="Number on the walk",
        help_text="Pick lists follow these numbers through the store; bins without one come last.",
    )

    def __init__(self, *args: Any, place: Place, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kits = Kit.objects.of(place.site).filter(run__isnull=False).order_by("name")
        self.fields["kit"].queryset = kits  # type: ignore[attr-defined]  # a ModelChoiceField
        if place.folded == folded(DEFAULT_BIN):
            del self.fields["kit"]  # the store is everybody's


class PlaceFilter(django_filters.FilterSet):
    """Narrow the list of places."""

    q = django_filters.CharFilter(field_name="name", lookup_expr="icontains", label="Search")
    kind = django_filters.ChoiceFilter(choices=KINDS, label="Kind", empty_label="any")

    class Meta:
        model = Place
        fields: list[str] = []
