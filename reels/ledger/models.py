"""Cable as it is: reels, each an interval of printed marks, and the cuts taken off them."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from takeoff.catalogue.models import Cable
from takeoff.database.fields import ExactField, LengthField
from takeoff.people.models import User
from takeoff.records.reported import Reported
from takeoff.runs.models import Conductor
from takeoff.sites.models import Place, Site
from takeoff.sites.scope import SiteManager


class Reel(models.Model):
    """A drum of cable with printed length marks, which may climb or fall toward the core."""

    class State(models.TextChoices):
        ON_THE_WAY = "on the way", "On the way"
        ON_SITE = "on site", "On site"
        EMPTY = "empty", "Empty"
        RETURNED = "returned", "Returned"
        HELD = "held", "On hold"

    class MarkUnit(models.TextChoices):
        FEET = "ft", "ft"
        METRES = "m", "m"

    class WeightUnit(models.TextChoices):
        POUNDS = "lb", "lb"
        KILOGRAMS = "kg", "kg"

    site = models.ForeignKey(Site, models.CASCADE, related_name="reels")
    tag = models.CharField(max_length=60)
    cable = models.ForeignKey(Cable, models.PROTECT, related_name="reels")
    length = LengthField(help_text="As received.")
    outer_mark = ExactField(null=True, blank=True)
    inner_mark = ExactField(null=True, blank=True)
    mark_unit = models.CharField(max_length=2, choices=MarkUnit, default=MarkUnit.FEET)
    delivery = models.CharField(max_length=60, blank=True, help_text="The shipment that brings or brought it.")
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="reels")
    state = models.CharField(max_length=10, choices=State, default=State.ON_SITE)
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="remnants")
    tare = ExactField(null=True, blank=True)
    gross = ExactField(null=True, blank=True)
    weight_unit = models.CharField(max_length=2, choices=WeightUnit, default=WeightUnit.POUNDS)
    flange = LengthField(null=True, blank=True)
    drum = LengthField(null=True, blank=True)
    traverse = LengthField(null=True, blank=True)

    objects = SiteManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_reel_per_tag", fields=["site", "tag"]),
            models.CheckConstraint(name="reel_length_above_zero", condition=Q(length__gt=0)),
            models.CheckConstraint(
                name="reel_has_both_marks_or_none",
                condition=Q(outer_mark__isnull=True, inner_mark__isnull=True)
                | Q(outer_mark__isnull=False, inner_mark__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.tag


class ReelEvent(Reported):
    """
    What was read off a reel when it came, from its supplier or, as a remnant, off another reel.

    points : what tells of trouble, with commas. before : what was announced of the reel; empty where this made it.
    """

    reel = models.ForeignKey(Reel, models.PROTECT, related_name="events")
    points = models.CharField(max_length=200, blank=True)
    before = models.JSONField(null=True, blank=True)

    objects = SiteManager()
    site_path = "reel__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_reel_event_per_id", fields=["reel", "event_id"])]

    def __str__(self) -> str:
        return self.event_id


class Reading(Reported):
    """
    What was read off a reel in use.

    value : the mark in the reel's unit, the weight in `unit`, the wound diameter in mm, or a number of turns.
    """

    class What(models.TextChoices):
        SHOWING = "mark showing", "Mark showing"
        END = "the end came at", "The end came at"
        WEIGHT = "weight", "Weight"
        WOUND = "wound diameter", "Wound diameter"
        TURNS = "turns", "Turns"

    reel = models.ForeignKey(Reel, models.PROTECT, related_name="readings")
    what = models.CharField(max_length=15, choices=What)
    value = ExactField()
    unit = models.CharField(max_length=2, blank=True)

    objects = SiteManager()
    site_path = "reel__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_reading_per_id", fields=["reel", "event_id"])]

    def __str__(self) -> str:
        return self.event_id


class Cut(models.Model):
    """A length that was taken off a reel. What was really cut stays recorded: the database refuses to change it."""

    class Purpose(models.TextChoices):
        CONDUCTOR = "conductor", "Conductor of a run"
        TEST_PIECE = "test piece", "Test piece"
        DAMAGE = "damage", "Damage"
        TRIM = "trim", "Trim"

    site = models.ForeignKey(Site, models.CASCADE, related_name="cuts")
    event_id = models.CharField(max_length=80)
    content_hash = models.CharField(max_length=64)
    reel = models.ForeignKey(Reel, models.PROTECT, related_name="cuts")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    purpose = models.CharField(max_length=10, choices=Purpose, default=Purpose.CONDUCTOR)
    conductor = models.ForeignKey(Conductor, models.PROTECT, null=True, blank=True, related_name="cuts")
    outer_mark = ExactField(null=True, blank=True)
    inner_mark = ExactField(null=True, blank=True)
    length = LengthField(help_text="The taped length; by the marks, where none was taped.")
    taped = models.BooleanField(default=False)
    by = models.CharField(max_length=120, blank=True)
    recorded_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = SiteManager()

    class Meta:
        ordering = ["reel", "at", "id"]
        constraints = [
            models.UniqueConstraint(name="one_cut_per_id", fields=["site", "event_id"]),
            models.CheckConstraint(name="cut_length_above_zero", condition=Q(length__gt=0)),
            models.CheckConstraint(
                name="cut_for_a_conductor_names_it",
                condition=Q(purpose="conductor", conductor__isnull=False)
                | ~Q(purpose="conductor") & Q(conductor__isnull=True),
            ),
            models.CheckConstraint(
                name="cut_has_both_marks_or_none",
                condition=Q(outer_mark__isnull=True, inner_mark__isnull=True)
                | Q(outer_mark__isnull=False, inner_mark__isnull=False) & ~Q(outer_mark=F("inner_mark")),
            ),
        ]

    def __str__(self) -> str:
        return self.event_id


class CutDecision(models.Model):
    """
    What was decided about a cut afterwards; the cut itself stays as it was recorded.

    reversed : it was entered wrongly and never happened. withdrawn : it was cut but failed, the cable became a tagged
    piece or scrap and the need is open again. accepted : it is shorter than needed and can still be terminated.
    takes_back : the decision that never was, by this row of its kind. Reels are locked, so that one of a kind stands.
    """

    class Kind(models.TextChoices):
        REVERSED = "reversed", "Reversed"
        WITHDRAWN = "withdrawn", "Withdrawn"
        ACCEPTED = "accepted", "Accepted"

    cut = models.ForeignKey(Cut, models.PROTECT, related_name="decisions")
    event_id = models.CharField(max_length=80)
    kind = models.CharField(max_length=9, choices=Kind)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    reason = models.CharField(max_length=300)
    piece = models.OneToOneField(Reel, models.PROTECT, null=True, blank=True, related_name="withdrawn_from")
    takes_back = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="taken_back_by")
    recorded_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = SiteManager()
    site_path = "cut__site"

    class Meta:
        ordering = ["cut", "at", "id"]
        constraints = [
            models.CheckConstraint(name="decision_gives_a_reason", condition=~Q(reason="")),
            models.CheckConstraint(
                name="only_a_withdrawn_cut_leaves_a_piece", condition=Q(piece__isnull=True) | Q(kind="withdrawn")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cut} {self.kind}"
