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
