"""Trucks at the gate."""

from __future__ import annotations

from datetime import datetime

from django.db import models
from django.db.models import Q

from kits.shipments.models import Package, Shipment
from takeoff.records.reported import Reported
from takeoff.sites.scope import SiteManager


class Arrival(Reported):
    """
    A truck at the gate with a shipment, or a part of one.

    at : when it came, or until when it must have come; not_before : since when, where nobody saw it. by : who signed.
    """

    class Words(models.TextChoices):
        PROPOSED = "as proposed", "As proposed here"
        OTHERS = "others", "Other words"
        NOTHING = "nothing", "Nothing: signed clean"
        NO_WAIT = "would not wait", "The driver would not wait"

    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="arrivals")
    not_before = models.DateTimeField(null=True, blank=True)
    count = models.PositiveIntegerField(default=0, help_text="Of packages that are here.")
    carrier = models.CharField(max_length=120, blank=True)
    paper = models.CharField(max_length=60, blank=True, help_text="The number of the driver's paper.")
    seal = models.CharField(max_length=60, blank=True)
    seal_whole = models.BooleanField(null=True, blank=True)
    words = models.CharField(max_length=14, choices=Words, blank=True, help_text="What it was signed with.")
    written = models.CharField(max_length=500, blank=True, help_text="What was written on the driver's paper.")
    standing = models.CharField(max_length=120, blank=True, help_text="Where it was put down.")

    objects = SiteManager()
    site_path = "shipment__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_arrival_per_id", fields=["shipment", "event_id"]),
            models.CheckConstraint(
                name="arrival_not_before_its_earliest",
                condition=Q(not_before__isnull=True) | Q(not_before__lte=models.F("at")),
            ),
        ]

    def __str__(self) -> str:
        return self.event_id

    @property
    def since(self) -> datetime:
        """From when its clocks run: the earliest that it can have come."""
        return self.not_before or self.at


class ArrivedPackage(models.Model):
    """A package of a truck: here, missing, or damaged outside."""

    class State(models.TextChoices):
        HERE = "here", "Here"
        MISSING = "missing", "Missing"
        DAMAGED = "damaged", "Damaged outside"

    arrival = models.ForeignKey(Arrival, models.PROTECT, related_name="packages")
    package = models.ForeignKey(Package, models.PROTECT, related_name="arrived")
    state = models.CharField(max_length=7, choices=State)

    objects = SiteManager()
    site_path = "arrival__shipment__site"
    made_with = "arrival"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_state_per_package", fields=["arrival", "package"])]

    def __str__(self) -> str:
        return f"{self.package} {self.state}"


class TruckCall(Reported):
    """
    What a dispatcher says of a truck on its way; the latest that stands rules the shipment's day.

    before : the day that its list had told before any call.
    """

    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="calls")
    expected = models.DateField()
    before = models.DateField(null=True, blank=True)
    hour = models.CharField(max_length=40, blank=True)
    lift = models.CharField(max_length=60, blank=True, help_text="The heaviest piece.")
    crane = models.BooleanField(null=True, blank=True, help_text="Whether a crane is to stand by.")

    objects = SiteManager()
    site_path = "shipment__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_truck_call_per_id", fields=["shipment", "event_id"])]

    def __str__(self) -> str:
        return self.event_id
