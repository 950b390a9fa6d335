"""What planners have seen of the doubts about reels."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from takeoff.records.reported import Reported
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class DoubtSeen(Reported):
    """
    A doubt that somebody looked at and left as it is; `note` says why.

    doubt : names it by what it is about; it comes again once that changes. Doubts themselves are never stored.
    """

    site = models.ForeignKey(Site, models.CASCADE, related_name="doubts_seen")
    doubt = models.CharField(max_length=300)

    objects = SiteManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_seen_doubt_per_id", fields=["site", "event_id"]),
            models.CheckConstraint(
                name="seen_doubt_gives_a_reason", condition=Q(takes_back__isnull=False) | ~Q(note="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.doubt}, seen"
