"""What was ordered: orders, each to one supplier."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from takeoff.catalogue.models import Cable, Item, Supplier
from takeoff.database.fields import ExactField, LengthField
from takeoff.runs.models import Run
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class Order(models.Model):
    """What the purchaser sends to one supplier."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        SENT = "sent", "Sent"
        CONFIRMED = "confirmed", "Confirmed"
        PART_RECEIVED = "part received", "Part received"
        CLOSED = "closed", "Closed"
        CANCELLED = "cancelled", "Cancelled"

        @property
        def is_open(self) -> bool:
            """Whether what has not been shipped is still to come."""
            return self in {Order.State.SENT, Order.State.CONFIRMED, Order.State.PART_RECEIVED}

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
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.item or self.cable}"
