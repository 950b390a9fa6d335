"""What was ordered: orders, each to one supplier, the steps that brought them there, and what was confirmed."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from kits.orders.course import order_steps
from kits.orders.course.order_steps import Step
from takeoff.catalogue.models import Cable, Item, Supplier
from takeoff.database.fields import ExactField, LengthField
from takeoff.people.models import User
from takeoff.records.reported import Reported
from takeoff.runs.models import Run
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class Order(models.Model):
    """What the purchaser sends to one supplier. How far it is follows from its steps and what was confirmed."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        ASKED = "asked for", "Asked for"
        SENT = "sent", "Sent"
        CONFIRMED = "confirmed", "Confirmed"
        PART_RECEIVED = "part received", "Part received"
        CLOSED = "closed", "Closed"
        CANCELLED = "cancelled", "Cancelled"

        @property
        def is_open(self) -> bool:
            """Whether what has not been shipped is still to come."""
            return self.value in order_steps.OPEN

        @property
        def is_over(self) -> bool:
            """Whether nothing more is done about it."""
            return self in {Order.State.CLOSED, Order.State.CANCELLED}

    site = models.ForeignKey(Site, models.CASCADE, related_name="orders")
    name = models.CharField(max_length=60)
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="orders")
    state = models.CharField(max_length=13, choices=State, default=State.DRAFT)
    po = models.CharField(max_length=60, blank=True)

    objects = SiteManager()

    class Meta:
        db_table = "kits_reorder"  # as it was first called
        constraints = [models.UniqueConstraint(name="one_reorder_per_name", fields=["site", "name"])]

    def __str__(self) -> str:
        return self.name


class OrderLine(models.Model):
    """A quantity of an item (of what is made for a run, its run and size), or reels of one length of a cable."""

    class Charge(models.TextChoices):
        CHARGE = "charge", "To be paid"
        NO_CHARGE = "no charge", "Free replacement"

    order = models.ForeignKey(Order, models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="order_lines")
    cable = models.ForeignKey(Cable, models.PROTECT, null=True, blank=True, related_name="order_lines")
    reel_length = LengthField(null=True, blank=True, help_text="Of each reel of a cable.")
    quantity = ExactField(help_text="In the item's unit; of a cable, reels.")
    run = models.ForeignKey(Run, models.PROTECT, null=True, blank=True, related_name="order_lines")
    size = models.CharField(max_length=60, blank=True)
    kind = models.CharField(max_length=9, choices=Charge, default=Charge.CHARGE)
    claim = models.ForeignKey(
        "kits.Claim", models.PROTECT, null=True, blank=True, related_name="order_lines",
        help_text="Which it settles, where it is a free replacement.",
    )  # fmt: skip
    expected = models.DateField(null=True, blank=True)
    sent = models.DateField(null=True, blank=True)
    need_by = models.DateField(null=True, blank=True)
    price = models.BigIntegerField(null=True, blank=True, help_text="Of one unit, in minor units.")
    reason = models.TextField(blank=True, help_text="Why it is asked for, as it was.")
    rest_cancelled = models.BooleanField(default=False, help_text="By a step of its order: what is open never comes.")

    objects = SiteManager()
    site_path = "order__site"

    class Meta:
        db_table = "kits_reorderline"  # as it was first called
        constraints = [
            models.UniqueConstraint(
                name="one_reorder_line_per_item",
                fields=["order", "item"],
                condition=Q(item__isnull=False, run__isnull=True),
            ),
            models.UniqueConstraint(name="one_order_line_per_item_and_run", fields=["order", "item", "run"]),
            models.UniqueConstraint(
                name="one_order_line_per_length_of_a_cable",
                fields=["order", "cable", "reel_length"],
                condition=Q(cable__isnull=False),
            ),
            models.CheckConstraint(
                name="order_line_is_of_an_item_or_of_reels",
                condition=Q(item__isnull=False, cable__isnull=True, reel_length__isnull=True)
                | Q(item__isnull=True, cable__isnull=False, reel_length__gt=0),
            ),
            models.CheckConstraint(name="reorder_quantity_above_zero", condition=Q(quantity__gt=0)),
            models.CheckConstraint(name="order_price_not_negative", condition=Q(price__isnull=True) | Q(price__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.item or self.cable}"


class How(models.TextChoices):
    """How a supplier's word came."""

    PHONE = "phone", "By phone"
    MAIL = "mail", "By mail"
    PAPER = "their paper", "On their paper"
    FILE = "our file", "In our file"


class OrderStep(Reported):
    """
    Something that was done about an order, or about one line of it.

    whom : who was asked, called or answered. revision : of a sent order, counted from 1.
    """

    order = models.ForeignKey(Order, models.PROTECT, related_name="steps")
    line = models.ForeignKey(OrderLine, models.PROTECT, null=True, blank=True, related_name="steps")
    step = models.CharField(max_length=14, choices=[(step.value, step.value.capitalize()) for step in Step])
    whom = models.CharField(max_length=120, blank=True)
    how = models.CharField(max_length=11, choices=How, blank=True)
    po = models.CharField(max_length=60, blank=True)
    expected = models.DateField(null=True, blank=True)
    revision = models.PositiveIntegerField(null=True, blank=True)

    objects = SiteManager()
    site_path = "order__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_order_step_per_id", fields=["order", "event_id"])]

    def __str__(self) -> str:
        return f"{self.order}: {self.step}"


class OrderDelivery(Reported):
    """
    What a supplier confirmed of a line, for one day. Of the replies to a line that stand the last one counts.

    reply : which; its rows add up. quantity : 0 where nothing of it comes. price : of one unit, in minor units, where
    the reply names one. other_part : what is offered instead.
    """

    line = models.ForeignKey(OrderLine, models.PROTECT, related_name="deliveries")
    reply = models.CharField(max_length=80)
    quantity = ExactField()
    on = models.DateField(null=True, blank=True)
    price = models.BigIntegerField(null=True, blank=True)
    other_part = models.CharField(max_length=120, blank=True)
    how = models.CharField(max_length=11, choices=How)
    said_by = models.CharField(max_length=120, blank=True)

    objects = SiteManager()
    site_path = "line__order__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_order_delivery_per_id", fields=["line", "event_id"]),
            models.CheckConstraint(name="confirmed_not_negative", condition=Q(quantity__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.line}: {self.quantity} on {self.on}"


class OrderFile(models.Model):
    """The very workbook that went to the supplier."""

    order = models.ForeignKey(Order, models.PROTECT, related_name="files")
    revision = models.PositiveIntegerField()
    name = models.CharField(max_length=120)
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")

    objects = SiteManager()
    site_path = "order__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_order_file_per_revision", fields=["order", "revision"])]

    def __str__(self) -> str:
        return self.name
