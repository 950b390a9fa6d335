"""Reads of records: what waits aside to be placed."""

from __future__ import annotations

from django.db.models import QuerySet

from takeoff.records.models import SetAside
from takeoff.sites.models import Site


def waiting(site: Site) -> QuerySet[SetAside]:
    """Return the records that wait aside, the oldest first."""
    rows = SetAside.objects.of(site).filter(end=None).select_related("record__recorded_by")
    return rows.order_by("record__at", "pk")
