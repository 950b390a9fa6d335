"""Rule books with their versions, and the takeoffs that they give."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from takeoff.catalogue.models import Item
from takeoff.database.fields import ExactField, FractionField, LengthField
from takeoff.people.models import User
from takeoff.runs.geometry.warnings import NOTE_BEGINS
from takeoff.runs.models import Run
from takeoff.sites.models import Site, StageName
from takeoff.sites.scope import SiteManager


class RuleBook(models.Model):
    """A published version of a site's rules. Guards in the database refuse to change it."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="rule_books")
    version = models.PositiveIntegerField()
    published_at = models.DateTimeField()
    published_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    content_hash = models.CharField(max_length=64)

    objects = SiteManager()

    class Meta:
        ordering = ["site", "version"]
        constraints = [models.UniqueConstraint(name="one_book_per_version", fields=["site", "version"])]

    def __str__(self) -> str:
        return f"rules {self.version}"


class Rule(models.Model):
    """One row of a rule book, its words as in `takeoff/rules/engine/book.py`; conditions left empty match any."""

    book = models.ForeignKey(RuleBook, models.CASCADE, related_name="rules")
    seq = models.PositiveIntegerField()
    name = models.CharField(max_length=80)
    item = models.ForeignKey(Item, models.PROTECT, related_name="rules")
    stage = models.CharField(max_length=12, choices=StageName)
    counted_on = models.CharField(max_length=20)
    measure = models.CharField(max_length=12)
    amount = ExactField(help_text="A number, or a length in mm for the measure `length`.")
    source = models.CharField(max_length=300)
    spacing = LengthField(null=True, blank=True)
    end_offset = LengthField(null=True, blank=True)
    sides = models.PositiveSmallIntegerField(null=True, blank=True)
    piece = LengthField(null=True, blank=True)
    bead = LengthField(null=True, blank=True)
    allowance = ExactField(default=0)
    rounding = models.CharField(max_length=4, default="run")
    family = models.CharField(max_length=60, blank=True)
    tiers = models.CharField(max_length=20, blank=True)
    voltage_class = models.CharField(max_length=2, blank=True)
    location = models.CharField(max_length=30, blank=True)
    section_kind = models.CharField(max_length=100, blank=True)
    lie = models.CharField(max_length=10, blank=True)
    seal = models.CharField(max_length=20, blank=True)
    lug_holes = models.CharField(max_length=20, blank=True)
    fire_rated = models.BooleanField(null=True, blank=True)
    crossing_kind = models.CharField(max_length=5, blank=True)
    ground_min = models.CharField(max_length=20, blank=True)
    ground_max = models.CharField(max_length=20, blank=True)
    cable_min = models.CharField(max_length=20, blank=True)
    cable_max = models.CharField(max_length=20, blank=True)

    objects = SiteManager()
    site_path = "book__site"
    made_with = "book"

    class Meta:
        ordering = ["book", "seq"]
        constraints = [
            models.UniqueConstraint(name="one_rule_per_seq", fields=["book", "seq"]),
            models.UniqueConstraint(name="one_rule_per_name", fields=["book", "name"]),
        ]

    def __str__(self) -> str:
        return self.name


class Takeoff(models.Model):
    """The current takeoff of a run; rewritten when the run or the published book changes."""

    run = models.OneToOneField(Run, models.CASCADE, related_name="takeoff")
    # Without a book it counts what sections name and what a planner sets.
    book = models.ForeignKey(RuleBook, models.PROTECT, null=True, blank=True, related_name="takeoffs")
    inputs_hash = models.CharField(max_length=64)
    computed_at = models.DateTimeField()
    # Sentences; those that are only notes, since the site follows another code, begin with NOTE_BEGINS.
    warnings = models.JSONField(default=list, blank=True)

    objects = SiteManager()
    site_path = "run__site"

    def __str__(self) -> str:
        return f"takeoff of {self.run}"

    @property
    def to_look_at(self) -> list[str]:
        """The warnings that ask for something."""
        return [text for text in self.warnings if not text.startswith(NOTE_BEGINS)]

    @property
    def notes(self) -> list[str]:
        """The warnings that only note what another code says."""
        return [text for text in self.warnings if text.startswith(NOTE_BEGINS)]


class TakeoffLine(models.Model):
    """
    What a run needs of an item in a stage.

    `exact` is the rule book's quantity before rounding, `computed` after it; `quantity` is the one that counts (a
    planner's override, else `computed`); `drawn` is the same with as-built lengths left out.
    """

    takeoff = models.ForeignKey(Takeoff, models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="takeoff_lines")
    stage = models.CharField(max_length=12, choices=StageName)
    exact = FractionField()
    exact_drawn = FractionField()
    computed = ExactField()
    quantity = ExactField()
    drawn = ExactField()

    objects = SiteManager()
    site_path = "takeoff__run__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_line_per_item_and_stage", fields=["takeoff", "item", "stage"]),
            models.CheckConstraint(name="takeoff_not_negative", condition=Q(quantity__gte=0, drawn__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.item} {self.quantity}"


class Override(models.Model):
    """A quantity that the drawing package sets for a run, in place of the computed one."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="overrides")
    item = models.ForeignKey(Item, models.PROTECT, related_name="overrides")
    stage = models.CharField(max_length=12, choices=StageName)
    quantity = ExactField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_override_per_item_and_stage", fields=["run", "item", "stage"]),
            models.CheckConstraint(name="override_not_negative", condition=Q(quantity__gte=0)),
            models.CheckConstraint(name="override_gives_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.item} {self.quantity}"
