"""Reads of a site's places that rooms share."""

from __future__ import annotations

from django.db.models import QuerySet

from takeoff.sites.models import Place, Site


def bins(site: Site) -> QuerySet[Place]:
    """Return the places of a site where good stock lies, by name."""
    kinds = [kind for kind in Place.Kind if kind.holds_good_stock]
    return Place.objects.of(site).filter(kind__in=kinds).order_by("name")
