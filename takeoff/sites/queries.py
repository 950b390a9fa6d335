"""Reads of a site's places that rooms share."""

from __future__ import annotations

from django.db.models import QuerySet

from takeoff.sites.models import GOOD_KINDS, Place, Site

MOST_OFFERED = 200


def bins(site: Site) -> QuerySet[Place]:
    """Return the places of a site where good stock lies, by name."""
    return Place.objects.of(site).filter(kind__in=GOOD_KINDS).order_by("name")


def offered_bins(site: Site) -> QuerySet[Place, str]:
    """Return the names of the bins that a form offers; any other may be typed."""
    rows = Place.objects.of(site).filter(kind=Place.Kind.BIN).order_by("name")
    return rows.values_list("name", flat=True)[:MOST_OFFERED]


def where_to_send(site: Site) -> list[str]:
    """Return, for the head of what goes to a supplier, where goods go and who answers, as far as the site says it."""
    ship_to = [f"ship to {' '.join(site.ship_to.split())}"] if site.ship_to else []
    return ship_to + ([f"questions to {site.contact}"] if site.contact else [])
