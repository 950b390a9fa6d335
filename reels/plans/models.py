"""Cut plans as they are stored: what was asked, what came out, how good it is proven to be, and what became of it."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Q

from reels.ledger.models import Reel
from takeoff.catalogue.models import Cable
from takeoff.database.fields import ExactField, LengthField
from takeoff.people.models import User
from takeoff.runs.models import Conductor
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class CutPlan(models.Model):
    """
    A plan of which length of one cable comes off which reel.

    inputs : what it was made from (`reels/plans/staleness.py`), so that it can say why it is stale.
    levels, bounds, proven : by the names of `plan_cuts --json`, lengths in feet; null where nothing is proven. Where
    something is to be bought, bounds also have `buy`: no purchase below this total is enough [ticks].
    unmet : conductors that no reel serves: [[run, conductor, length in ticks]]. buy : [[length in ticks, count]].
    buy_for : names of the runs of which no reel on the way serves all either; what to buy is for them.
    """

    class State(models.TextChoices):
        PLANNING = "planning", "Being planned"
        PROPOSED = "proposed", "Proposed"
        ACCEPTED = "accepted", "Accepted"
        SUPERSEDED = "superseded", "Superseded"
        CANCELLED = "cancelled", "Cancelled"
        FAILED = "failed", "Failed"

    class Stopped(models.TextChoices):
        PROVEN = "proven", "Nothing better exists"
        FINISHED = "finished", "Work limits used up"
        TIME = "time", "Out of time: the best so far"
        ASKED = "asked", "Stopped early: the best so far"

    site = models.ForeignKey(Site, models.CASCADE, related_name="cut_plans")
    cable = models.ForeignKey(Cable, models.PROTECT, related_name="cut_plans")
    state = models.CharField(max_length=10, choices=State, default=State.PLANNING)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    strict = models.BooleanField(default=False, help_text="Least scrap before fewest whole reels, whatever it costs.")
    rate_whole = ExactField(default=Decimal(10), help_text="Feet of scrap that a whole reel opened is worth.")
    rate_remnant = ExactField(default=Decimal(2), help_text="Feet of scrap that a remnant made is worth.")
    rate_setup = ExactField(default=Decimal("0.2"), help_text="Feet of scrap that a set-up is worth.")
    with_coming = models.BooleanField(default=False, help_text="Count on reels that are on the way.")
    seconds_allowed = ExactField(default=Decimal(10))
    inputs = models.JSONField(default=dict, blank=True)
    inputs_hash = models.CharField(max_length=64, blank=True)
    progress = models.CharField(max_length=200, blank=True)
    stop_asked = models.BooleanField(default=False)
    trouble = models.TextField(blank=True, help_text="Why planning failed.")
    stopped = models.CharField(max_length=8, choices=Stopped, blank=True)
    seconds = models.FloatField(null=True, blank=True)
    levels = models.JSONField(default=dict, blank=True)
    bounds = models.JSONField(default=dict, blank=True)
    proven = models.JSONField(default=dict, blank=True)
    cost = models.FloatField(null=True, blank=True, help_text="Feet of scrap and of what the rates charge.")
    cost_bound = models.FloatField(null=True, blank=True, help_text="No plan costs less, at the same rates.")
    unmet = models.JSONField(default=list, blank=True)
    buy = models.JSONField(default=list, blank=True)
    buy_for = models.JSONField(default=list, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = SiteManager()

    class Meta:
        ordering = ["site", "-asked_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                name="one_accepted_plan_per_cable", fields=["cable"], condition=Q(state="accepted")
            ),
            models.CheckConstraint(
                name="plan_rates_not_negative",
                condition=Q(rate_whole__gte=0, rate_remnant__gte=0, rate_setup__gte=0),
            ),
        ]
        indexes = [
            # For the cut plan page: the plans of a site in force.
            models.Index(name="cut_plan_by_state", fields=["site", "state"]),
        ]

    def __str__(self) -> str:
        return f"plan {self.pk} of {self.cable}"


class PlannedCut(models.Model):
    """A conductor that a plan takes off a reel; `seq` is its place in the order to cut the reel."""

    plan = models.ForeignKey(CutPlan, models.CASCADE, related_name="cuts")
    reel = models.ForeignKey(Reel, models.PROTECT, related_name="planned_cuts")
    seq = models.PositiveIntegerField()
    conductor = models.ForeignKey(Conductor, models.CASCADE, related_name="planned_cuts")
    length = LengthField(help_text="What the conductor needed when it was planned.")

    objects = SiteManager()
    site_path = "plan__site"

    class Meta:
        ordering = ["plan", "reel", "seq"]
        constraints = [
            models.UniqueConstraint(name="one_planned_cut_per_place", fields=["plan", "reel", "seq"]),
            models.UniqueConstraint(name="one_planned_cut_per_conductor", fields=["plan", "conductor"]),
        ]

    def __str__(self) -> str:
        return f"{self.reel} {self.seq}: {self.conductor}"
