"""The list of reels: which are shown, and what is on each of those on a page."""

from __future__ import annotations

from typing import Any

import django_filters
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet

from reels.ledger.entries import ReelEntry
from reels.ledger.models import Reel
from reels.ledger.queries import reel_entries
from takeoff.catalogue.models import Cable
from takeoff.people.tables import PER_PAGE
from takeoff.sites.models import Site


class ReelFilter(django_filters.FilterSet):
    """Narrow the list of reels."""

    q = django_filters.CharFilter(field_name="tag", lookup_expr="icontains", label="Tag")
    cable = django_filters.ChoiceFilter(field_name="cable__code", label="Cable", empty_label="any")
    state = django_filters.ChoiceFilter(choices=Reel.State.choices, label="State", empty_label="any")
    place = django_filters.CharFilter(field_name="place__name", lookup_expr="icontains", label="Place")

    class Meta:
        model = Reel
        fields: list[str] = []

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        codes = Cable.objects.of(site).order_by("code").values_list("code", flat=True)
        self.filters["cable"].extra["choices"] = [(code, code) for code in codes]


def reel_rows(site: Site) -> QuerySet[Reel]:
    """Return the reels of a site by tag."""
    return Reel.objects.of(site).order_by("tag")


def shown_entries(site: Site, reels: QuerySet[Reel], page: str) -> tuple[Page[Reel], tuple[ReelEntry, ...]]:
    """Return a page of reels, and those on it with their books: those of the others are not worked out."""
    part = Paginator(reels, PER_PAGE).get_page(page)
    return part, reel_entries(site, reels=Reel.objects.of(site).filter(pk__in=[reel.pk for reel in part]))
