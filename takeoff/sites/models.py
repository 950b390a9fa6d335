"""A site: one job with its store, its people, its units and its money; and the places where its stock can be."""

from __future__ import annotations

import zoneinfo
from datetime import date, datetime
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils import timezone

from takeoff.database.fields import ExactField, LengthField
from takeoff.database.folding import FoldedField
from takeoff.sites.scope import SiteManager


def known_timezone(name: str) -> None:
    """Refuse a time zone that the time zone database does not know."""
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"{name!r} is not a time zone; expected a name such as America/Chicago")


class Site(models.Model):
    """One job. Rates and settings that differ from job to job are kept here."""

    class Unit(models.TextChoices):
        FEET = "ft", "Feet and inches"
        METRES = "m", "Metres and millimetres"

    class Code(models.TextChoices):
        NFPA_70 = "NFPA 70", "NFPA 70"
        OTHER = "other", "Other"

    class Grid(models.TextChoices):
        TENTH_FOOT = "0.1 ft", "0.1 ft"
        INCH = "1 in", "1 in"
        MILLIMETRE = "1 mm", "1 mm"

    class MarksAs(models.TextChoices):
        INCHES = "inches", "Whole inches on from a printed mark"
        TENTHS = "tenths", "Tenths of a foot, hundredths of a metre"
        CENTIMETRES = "cm", "Whole centimetres on from a printed mark"

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=120)
    unit = models.CharField(max_length=2, choices=Unit, default=Unit.FEET)
    code = models.CharField(max_length=10, choices=Code, default=Code.NFPA_70)
    country = models.CharField(max_length=2, blank=True, help_text="ISO 3166: how sheets write numbers and dates.")
    currency = models.CharField(max_length=3, default="USD")
    timezone = models.CharField(max_length=60, default="UTC", validators=[known_timezone])
    keep_length = LengthField(default=Decimal(9144), help_text="The shortest end of a reel worth keeping.")  # 30 ft
    mark_allowance = ExactField(default=Decimal("0.01"), help_text="What a printed mark may be off, as a fraction.")
    mark_reading = LengthField(
        null=True, blank=True, help_text="What two read differently of one mark. Empty: 0.5 ft, or 0.15 m."
    )
    marks_as = models.CharField(
        max_length=6, choices=MarksAs, blank=True, help_text="Empty: inches on a site in feet, cm in metres."
    )
    safety_tail = LengthField(default=Decimal("304.8"), help_text="Held to the drum by its end, never planned.")  # 1 ft
    planning_grid = models.CharField(
        max_length=6, choices=Grid, blank=True, help_text="Empty: 0.1 ft on a site in feet, 1 mm in metres."
    )
    service_level = ExactField(default=Decimal("0.95"))
    buffer_days = models.PositiveIntegerField(default=3)
    set_tolerance = LengthField(default=Decimal("152.4"), help_text="How far the conductors of a set may differ.")
    concealed_days = models.PositiveIntegerField(default=5, help_text="Business days to report concealed damage.")
    claim_months = models.PositiveIntegerField(default=9)
    cure_hours = models.PositiveIntegerField(default=24)
    holidays = models.JSONField(default=list, blank=True, help_text="Days not worked, YYYY-MM-DD, besides weekends.")
    count_blind_above = ExactField(
        default=Decimal(200), help_text="Worth of a listed line from which its figure shows only after one's own count."
    )
    names = models.JSONField(default=list, blank=True, help_text="Crews and people who have no account.")
    ship_to = models.TextField(blank=True)
    contact = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="service_level_is_between_50_and_99_9_percent",
                condition=Q(service_level__gte=Decimal("0.5"), service_level__lte=Decimal("0.999")),
            ),
            models.CheckConstraint(name="site_keep_length_not_negative", condition=Q(keep_length__gte=0)),
            models.CheckConstraint(name="site_safety_tail_not_negative", condition=Q(safety_tail__gte=0)),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def tz(self) -> zoneinfo.ZoneInfo:
        """The site's time zone."""
        return zoneinfo.ZoneInfo(self.timezone)

    def today(self) -> date:
        """Return the date on site now."""
        return timezone.now().astimezone(self.tz).date()

    def local_date(self, moment: datetime) -> date:
        """Return the date on site at `moment`."""
        return moment.astimezone(self.tz).date()

    def start_of(self, day: date) -> datetime:
        """Return the first moment of `day` on site."""
        return datetime(day.year, day.month, day.day, tzinfo=self.tz)


class StageName(models.TextChoices):
    """The five stages in which a run is put together, in order."""

    ENCLOSURE = "enclosure", "Enclosure"
    CABLES = "cables", "Cables"
    SEALS = "seals", "Seals"
    TERMINATIONS = "terminations", "Terminations"
    COVERS = "covers", "Covers"


class Place(models.Model):
    """Somewhere stock can be. Moves go from place to place, so quantities are never made or lost."""

    class Kind(models.TextChoices):
        SUPPLIER = "supplier", "Supplier"
        BIN = "bin", "Bin"
        KIT_BOX = "kit_box", "Kit box"
        GANG_BOX = "gang_box", "Gang box"
        QUARANTINE = "quarantine", "On hold"
        HANDED_OUT = "handed_out", "Handed out"
        SPOILED = "spoiled", "Spoiled in use"
        SCRAP = "scrap", "Scrap"
        LOST_FOUND = "lost_found", "Lost and found"
        RETURNED = "returned", "Returned to supplier"
        OTHER_SITE = "other_site", "Other site"
        TRANSIT = "transit", "On the way between sites"

        @property
        def may_be_negative(self) -> bool:
            """Whether the place is a far end of the books, where goods come from or go to."""
            return self in {Place.Kind.SUPPLIER, Place.Kind.LOST_FOUND, Place.Kind.OTHER_SITE}

        @property
        def holds_good_stock(self) -> bool:
            """Whether what lies there can be handed out."""
            return self in {Place.Kind.BIN, Place.Kind.KIT_BOX, Place.Kind.GANG_BOX}

        @property
        def is_work(self) -> bool:
            """Whether what lies there was used up by a stage: handed out, or spoiled there."""
            return self in {Place.Kind.HANDED_OUT, Place.Kind.SPOILED}

    site = models.ForeignKey(Site, models.CASCADE, related_name="places")
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=120)
    folded = FoldedField(of="name", max_length=360)  # a folded letter may be three
    run = models.ForeignKey("takeoff.Run", models.PROTECT, null=True, blank=True, related_name="places")
    stage = models.CharField(max_length=12, choices=StageName, blank=True)
    crew = models.CharField(max_length=60, blank=True, help_text="Whose gang box it is.")
    walk = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Its number on the walk through the store."
    )

    objects = SiteManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_place_per_name", fields=["site", "kind", "name"]),
            models.UniqueConstraint(name="one_bin_per_name", fields=["site", "folded"], condition=Q(kind="bin")),
            models.UniqueConstraint(
                name="one_gang_box_per_crew", fields=["site", "folded"], condition=Q(kind="gang_box")
            ),
            models.CheckConstraint(
                name="only_gang_boxes_name_a_crew",
                condition=Q(kind="gang_box") & ~Q(crew="") | ~Q(kind="gang_box") & Q(crew=""),
            ),
            # The place of a run's stage is found by run and stage.
            models.UniqueConstraint(
                name="one_place_per_run_stage_and_kind", fields=["run", "stage", "kind"], condition=Q(run__isnull=False)
            ),
            models.CheckConstraint(
                name="only_places_of_work_name_a_run",
                condition=Q(kind__in=["handed_out", "spoiled"], run__isnull=False) & ~Q(stage="")
                | ~Q(kind__in=["handed_out", "spoiled"]) & Q(run__isnull=True, stage=""),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def told(self) -> str:
        """What pages call it: its name, what sets it apart from the other place of its stage; or on hold and why."""
        if self.kind == self.Kind.QUARANTINE:
            label, (_, comma, why) = str(self.Kind.QUARANTINE.label), self.name.partition(", ")
            return f"{label}{comma}{why}"
        return f"{self.name}, spoiled" if self.kind == self.Kind.SPOILED else self.name


GOOD_KINDS = [kind for kind in Place.Kind if kind.holds_good_stock]
WORK_KINDS = [kind for kind in Place.Kind if kind.is_work]
