"""What people reported as having happened, as they sent it, and what could not be placed yet."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from takeoff.people.models import User
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class Record(models.Model):
    """
    One row of one event table as it was sent, with the answer that it got.

    row : its cells in one spelling; empty for what was kept before records were, which has `row_hash` by the old rule.
    device_at : what the device's clock showed at sending. at : when it happened, corrected by that clock's offset.
    """

    class Answer(models.TextChoices):
        KEPT = "kept", "Kept"
        LOOK = "look", "Kept, for a person to look at"
        ASIDE = "aside", "Set aside"

    site = models.ForeignKey(Site, models.CASCADE, related_name="records")
    event_id = models.CharField(max_length=80)
    kind = models.CharField(max_length=20)
    row = models.JSONField(null=True)
    row_hash = models.CharField(max_length=64)
    at = models.DateTimeField()
    device = models.CharField(max_length=60, blank=True)
    number = models.PositiveBigIntegerField(null=True, help_text="In the order in which the device made its records.")
    after = models.JSONField(default=list, help_text="The ids that it hangs on.")
    device_at = models.DateTimeField(null=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    answer = models.CharField(max_length=5, choices=Answer)
    said = models.JSONField(default=list)

    objects = SiteManager()

    class Meta:
        constraints = [models.UniqueConstraint(name="one_record_per_id", fields=["site", "event_id"])]
        indexes = [
            # For how many one member sent within the hour.
            models.Index(name="record_by_sender", fields=["recorded_by", "recorded_at"]),
        ]

    def __str__(self) -> str:
        return self.event_id


class SetAside(models.Model):
    """
    A record that is not in the books and waits.

    subject : the thing whose next record is a reason to try again, such as `item LUG`. lacks : what it lacked, such as
    `stock` or `run CB-9`; empty where it contradicts what is kept, or where its sender may not: a person decides.
    """

    record = models.OneToOneField(Record, models.PROTECT, related_name="set_aside")
    subject = models.CharField(max_length=160)
    lacks = models.CharField(max_length=400, blank=True)
    reason = models.CharField(max_length=1000)

    objects = SiteManager()
    site_path = "record__site"
    made_with = "record"

    class Meta:
        indexes = [
            # For what to try again once its subject has a new record.
            models.Index(name="set_aside_by_subject", fields=["subject"]),
            models.Index(name="set_aside_by_what_lacked", fields=["lacks"]),
        ]

    def __str__(self) -> str:
        return f"{self.record}: {self.reason}"


class AsideEnd(models.Model):
    """What became of a record that was set aside; the database takes one end of each."""

    class How(models.TextChoices):
        RETRIED = "retried", "In the books after another try"
        PLACED = "placed", "Placed by a record that names it"
        DROPPED = "dropped", "Dropped"

    set_aside = models.OneToOneField(SetAside, models.PROTECT, related_name="end")
    how = models.CharField(max_length=7, choices=How)
    placed_by = models.ForeignKey(Record, models.PROTECT, null=True, related_name="places")
    reason = models.CharField(max_length=300, blank=True)
    said = models.JSONField(default=list)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")

    objects = SiteManager()
    site_path = "set_aside__record__site"

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="placed_by_a_record_or_dropped_with_a_reason",
                condition=Q(how="retried")
                | Q(how="placed", placed_by__isnull=False)
                | Q(how="dropped") & ~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.set_aside.record} {self.how}"
