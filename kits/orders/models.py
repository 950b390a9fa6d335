"""What was ordered: orders, each to one supplier."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from takeoff.catalogue.models import Item, Supplier
from takeoff.database.fields import ExactField
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
    """A quantity of an item on an order; of what is made for a run, the run and the size."""

    class Charge(models.TextChoices):
        CHARGE = "charge", "To be paid"
        NO_CHARGE = "no charge", "Free replacement"

    order = models.ForeignKey(Order, models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="order_lines")
    quantity = ExactField()
    run = models.ForeignKey(Run, models.PROTECT, null=True, blank=True, related_name="order_lines")
    size = models.CharField(max_length=60, blank=True)
    kind = models.CharField(max_length=9, choices=Charge, default=Charge.CHARGE)
    expected = models.DateField(null=True, blank=True)
    sent = models.DateField(null=True, blank=True)

    objects = SiteManager()
    site_path = "order__site"

    class Meta:
        db_table = "kits_reorderline"  # as it was first called
        constraints = [
            models.UniqueConstraint(
                name="one_reorder_line_per_item", fields=["order", "item"], condition=Q(run__isnull=True)
            ),
            models.UniqueConstraint(name="one_order_line_per_item_and_run", fields=["order", "item", "run"]),
            models.CheckConstraint(name="reorder_quantity_above_zero", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.item}"
