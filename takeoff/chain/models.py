"""The links by which it shows when what was kept is changed afterwards."""

from __future__ import annotations

from django.db import models

from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class Link(models.Model):
    """
    One link of a site's chain: rows of one table, key after key without a gap, as they were when they were linked.

    hash : of the link before, of what this link says, and of its rows with all that was written with them.
    """

    site = models.ForeignKey(Site, models.CASCADE, related_name="links")
    number = models.PositiveBigIntegerField()
    table = models.CharField(max_length=60)
    first = models.BigIntegerField(help_text="The key of its first row.")
    last = models.BigIntegerField(help_text="The key of its last row.")
    at = models.DateTimeField(help_text="When it was linked.")
    hash = models.CharField(max_length=64)

    objects = SiteManager()

    class Meta:
        constraints = [
            # Of two that link at once, one comes too late.
            models.UniqueConstraint(name="one_link_per_number", fields=["site", "number"]),
            models.UniqueConstraint(name="one_link_per_first_row", fields=["site", "table", "first"]),
        ]

    def __str__(self) -> str:
        return f"Link {self.number} ({self.at:%Y-%m-%d %H:%M:%S})"
