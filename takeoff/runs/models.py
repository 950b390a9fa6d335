"""What is to be built: runs with their ends, sections, crossings, conductors, stages and measured lengths."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from takeoff.catalogue.models import Cable, Item, VoltageClass
from takeoff.database.fields import ExactField, LengthField
from takeoff.people.models import User
from takeoff.sites.models import Site, StageName
from takeoff.sites.scope import SiteManager


class Run(models.Model):
    """One cable bus from an item of equipment to another."""

    class Location(models.TextChoices):
        INDOOR = "indoor", "Indoor"
        OUTDOOR = "outdoor", "Outdoor"
        TRENCH = "trench", "Trench"

    site = models.ForeignKey(Site, models.CASCADE, related_name="runs")
    name = models.CharField(max_length=60)
    from_equipment = models.CharField(max_length=120)
    to_equipment = models.CharField(max_length=120)
    description = models.CharField(max_length=200, blank=True)
    tiers = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(4)])
    phases = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(3)])
    cables_per_phase = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    neutrals = models.PositiveSmallIntegerField(default=0, help_text="In all, not per phase.")
    cable = models.ForeignKey(Cable, models.PROTECT, related_name="runs")
    neutral_cable = models.ForeignKey(Cable, models.PROTECT, null=True, blank=True, related_name="+")
    ground_cable = models.ForeignKey(Cable, models.PROTECT, null=True, blank=True, related_name="+")
    ground_cables = models.PositiveSmallIntegerField(default=1, help_text="0: the framework is the ground path.")
    voltage_class = models.CharField(max_length=2, choices=VoltageClass)
    location = models.CharField(max_length=7, choices=Location, default=Location.INDOOR)
    breaker_amps = models.PositiveIntegerField(null=True, blank=True)
    slack = ExactField(default=0, help_text="As a fraction of the length.")
    pull_allowance = LengthField(default=0)
    centre_spacing = LengthField(null=True, blank=True, help_text="Twice the cable's diameter, where empty.")
    drawing_length = LengthField(null=True, blank=True)
    revision = models.CharField(max_length=20, blank=True)
    crew = models.CharField(max_length=60, blank=True)

    objects = SiteManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_run_per_name", fields=["site", "name"]),
            models.CheckConstraint(name="run_has_one_to_four_tiers", condition=Q(tiers__gte=1, tiers__lte=4)),
            models.CheckConstraint(name="run_has_one_to_three_phases", condition=Q(phases__gte=1, phases__lte=3)),
            models.CheckConstraint(name="run_slack_not_negative", condition=Q(slack__gte=0)),
        ]

    def __str__(self) -> str:
        return self.name


class RunEnd(models.Model):
    """Where a run meets equipment."""

    class End(models.TextChoices):
        FROM = "from", "From"
        TO = "to", "To"

    class Seal(models.TextChoices):
        NONE = "none", "None"
        MOULDED = "moulded", "Moulded"
        CAULKED = "caulked", "Caulked"

    run = models.ForeignKey(Run, models.CASCADE, related_name="ends")
    end = models.CharField(max_length=4, choices=End)
    stick_out = LengthField(default=0, help_text="Cable beyond the enclosure for termination.")
    min_stick_out = LengthField(null=True, blank=True, help_text="The least that can be terminated; empty: the target.")
    ground_tail = LengthField(default=0)
    lug_holes = models.PositiveSmallIntegerField(default=2)
    ground_lug_holes = models.PositiveSmallIntegerField(default=2)
    seal = models.CharField(max_length=7, choices=Seal, default=Seal.NONE)
    seal_width = LengthField(null=True, blank=True)
    seal_height = LengthField(null=True, blank=True)

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_row_per_end", fields=["run", "end"])]

    def __str__(self) -> str:
        return f"{self.run} {self.end}"


class Section(models.Model):
    """A straight or a fitting of the enclosure."""

    class Kind(models.TextChoices):
        STRAIGHT = "straight", "Straight"
        HORIZONTAL_ELBOW = "horizontal elbow", "Horizontal elbow"
        VERTICAL_ELBOW = "vertical elbow", "Vertical elbow"
        TEE = "tee", "Tee"
        OFFSET = "offset", "Offset"
        EXPANSION = "expansion", "Expansion"

    class Lie(models.TextChoices):
        HORIZONTAL = "horizontal", "Horizontal"
        VERTICAL = "vertical", "Vertical"

    class Turn(models.TextChoices):
        LEFT = "left", "Left"
        RIGHT = "right", "Right"
        UP = "up", "Up"
        DOWN = "down", "Down"

    run = models.ForeignKey(Run, models.CASCADE, related_name="sections")
    seq = models.PositiveIntegerField()
    kind = models.CharField(max_length=16, choices=Kind)
    lie = models.CharField(max_length=10, choices=Lie, default=Lie.HORIZONTAL)
    length = LengthField(help_text="Along the centre line.")
    angle = ExactField(null=True, blank=True, help_text="Degrees; an elbow turns 90 where empty.")
    turn = models.CharField(max_length=5, choices=Turn, blank=True)
    radius = LengthField(null=True, blank=True)
    cover = models.BooleanField(default=True)
    item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="+")
    mark = models.CharField(max_length=30, blank=True)
    cover_item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="+")

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        ordering = ["run", "seq"]
        constraints = [
            models.UniqueConstraint(name="one_section_per_seq", fields=["run", "seq"]),
            models.CheckConstraint(name="section_length_not_negative", condition=Q(length__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.run} {self.seq}"


class Crossing(models.Model):
    """Where a run passes a wall or a floor."""

    class Kind(models.TextChoices):
        WALL = "wall", "Wall"
        FLOOR = "floor", "Floor"

    run = models.ForeignKey(Run, models.CASCADE, related_name="crossings")
    at = LengthField(help_text="Along the centre line from the from end.")
    kind = models.CharField(max_length=5, choices=Kind)
    width = LengthField(null=True, blank=True)
    height = LengthField(null=True, blank=True)
    depth = LengthField(null=True, blank=True)
    fire_rated = models.BooleanField(default=False)
    seal = models.CharField(max_length=7, choices=RunEnd.Seal, default=RunEnd.Seal.NONE)

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        ordering = ["run", "at", "id"]

    def __str__(self) -> str:
        return f"{self.run} {self.kind}"


class Conductor(models.Model):
    """One cable of a run, with the length it needs."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="conductors")
    name = models.CharField(max_length=10)
    # Empty for a ground conductor whose cable the sheets do not name.
    cable = models.ForeignKey(Cable, models.PROTECT, null=True, blank=True, related_name="conductors")
    tier = models.PositiveSmallIntegerField(null=True, blank=True, help_text="1: the bottom.")
    position = models.PositiveSmallIntegerField(null=True, blank=True, help_text="1: left, seen from the from end.")
    extra = LengthField(default=0)
    length = LengthField(default=0, help_text="What it must be cut to; written with the takeoff.")
    least_length = LengthField(default=0, help_text="What can still be terminated.")

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_conductor_per_name", fields=["run", "name"])]

    def __str__(self) -> str:
        return f"{self.run} {self.name}"


class Stage(models.Model):
    """When a stage of a run is planned, and when it was done. A run without rows has all five, open and undated."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="stages")
    stage = models.CharField(max_length=12, choices=StageName)
    planned = models.DateField(null=True, blank=True)
    done = models.DateTimeField(null=True, blank=True)

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_row_per_stage", fields=["run", "stage"])]

    def __str__(self) -> str:
        return f"{self.run} {self.stage}"


class StageReport(models.Model):
    """What was reported of a stage; the latest counts. done : when it was done, empty where it is open again."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="stage_reports")
    event_id = models.CharField(max_length=80)
    stage = models.CharField(max_length=12, choices=StageName)
    done = models.DateTimeField(null=True, blank=True)
    at = models.DateTimeField()

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        ordering = ["run", "at", "event_id"]

    def __str__(self) -> str:
        return self.event_id


class NothingUsed(models.Model):
    """That a stage that is done used nothing of an item: nothing was handed out, and somebody was asked."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="unused")
    event_id = models.CharField(max_length=80)
    stage = models.CharField(max_length=12, choices=StageName)
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = SiteManager()
    site_path = "run__site"

    def __str__(self) -> str:
        return f"{self.run} {self.stage}: no {self.item}"


class Measurement(models.Model):
    """A centre line measured once the enclosure is up: of the whole run, or of one section. The latest counts."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="measurements")
    event_id = models.CharField(max_length=80, blank=True, help_text="Of its record; empty: a sheet of runs told it.")
    section_seq = models.PositiveIntegerField(null=True, blank=True, help_text="Empty: the whole run.")
    length = LengthField()
    at = models.DateTimeField()
    by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    objects = SiteManager()
    site_path = "run__site"

    class Meta:
        ordering = ["run", "at", "id"]
        constraints = [models.CheckConstraint(name="measured_length_above_zero", condition=Q(length__gt=Decimal(0)))]

    def __str__(self) -> str:
        return f"{self.run} {self.length} mm"


class LengthChoice(models.Model):
    """
    How a planner lets a run's cable be cut: to the drawing, or only once it is measured. The latest rules.

    What was chosen stays recorded: cable may have been cut by it. takes_back : the choice that never was, by this row.
    """

    class Way(models.TextChoices):
        DRAWING = "drawing", "Cut to the drawing"
        MEASURE = "measure", "Measure first"

    site = models.ForeignKey(Site, models.CASCADE, related_name="length_choices")
    event_id = models.CharField(max_length=80)
    run = models.ForeignKey(Run, models.PROTECT, related_name="length_choices")
    way = models.CharField(max_length=10, choices=Way)
    reason = models.CharField(max_length=300)
    takes_back = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="taken_back_by")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    objects = SiteManager()

    class Meta:
        ordering = ["run", "at", "id"]
        constraints = [
            models.UniqueConstraint(name="one_length_choice_per_id", fields=["site", "event_id"]),
            models.CheckConstraint(name="length_choice_gives_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.run}: {self.get_way_display().lower()}"
