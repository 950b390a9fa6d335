"""What tables of records have in common that keep nothing but what was reported."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from django.db import models

from takeoff.people.models import User
from takeoff.sites.scope import SiteQuerySet

if TYPE_CHECKING:
    from takeoff.records.record_kinds import Filing


class Reported(models.Model):
    """
    What a record reports. Added to, never changed: one that never was is taken back by a row of its own.

    at : when it happened. by : who did it; recorded_by : who sent it.
    """

    event_id = models.CharField(max_length=80)
    at = models.DateTimeField()
    by = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=300, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    takes_back = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="taken_back")

    class Meta:
        abstract = True


R = TypeVar("R", bound=Reported)


def standing(rows: SiteQuerySet[R]) -> SiteQuerySet[R]:
    """Return those that were not taken back."""
    return rows.filter(takes_back=None, taken_back=None)


def reported(filing: Filing) -> dict[str, Any]:
    """Return what every record says of itself."""
    return {
        "event_id": filing.id,
        "at": filing.at,
        "by": filing["by"],
        "recorded_at": filing.record.recorded_at,
        "recorded_by": filing.sender,
    }


def taking(row: Reported, filing: Filing) -> dict[str, Any]:
    """Return what a row says that takes another back."""
    return reported(filing) | {"note": filing["reason"], "takes_back": row}
