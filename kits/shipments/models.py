"""What suppliers sent: shipments, their packages and their packing lists."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from kits.orders.models import Order
from kits.promises.models import Kit
from takeoff.catalogue.models import Item, Supplier
from takeoff.database.fields import ExactField
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class Shipment(models.Model):
    """What a supplier sent with one carrier. risk : whose the goods are while they travel, by the order's terms."""

    class Risk(models.TextChoices):
        OURS = "ours", "Ours"
        THEIRS = "theirs", "Theirs"
        UNKNOWN = "", "Not known"

    site = models.ForeignKey(Site, models.CASCADE, related_name="shipments")
    name = models.CharField(max_length=60)
    supplier = models.ForeignKey(
        Supplier, models.PROTECT, null=True, blank=True, related_name="shipments", help_text="Empty: nobody knows yet."
    )
    carrier = models.CharField(max_length=120, blank=True)
    shipped = models.DateField(null=True, blank=True)
    expected = models.DateField(null=True, blank=True)
    risk = models.CharField(max_length=6, choices=Risk, blank=True, default=Risk.UNKNOWN)
    found_at = models.DateTimeField(null=True, blank=True, help_text="When it stood at the gate unannounced.")

    objects = SiteManager()

    class Meta:
        constraints = [models.UniqueConstraint(name="one_shipment_per_name", fields=["site", "name"])]

    def __str__(self) -> str:
        return self.name


class Package(models.Model):
    """A crate, box or pallet of a shipment."""

    shipment = models.ForeignKey(Shipment, models.CASCADE, related_name="packages")
    name = models.CharField(max_length=60)

    objects = SiteManager()
    site_path = "shipment__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_package_per_name", fields=["shipment", "name"])]

    def __str__(self) -> str:
        return f"{self.shipment} {self.name}"


class PackingLine(models.Model):
    """What the packing list says of an item. `per_pack` pieces go to one of the packs that the list counts in."""

    shipment = models.ForeignKey(Shipment, models.CASCADE, related_name="lines")
    package = models.ForeignKey(Package, models.PROTECT, null=True, blank=True, related_name="lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="packing_lines")
    quantity = ExactField(help_text="In the item's unit.")
    per_pack = ExactField(default=1)
    kit = models.ForeignKey(Kit, models.PROTECT, null=True, blank=True, related_name="packing_lines")
    order = models.ForeignKey(Order, models.PROTECT, null=True, blank=True, related_name="packing_lines")

    objects = SiteManager()
    site_path = "shipment__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="one_packing_line_per_package_item_kit_order",
                fields=["shipment", "package", "item", "kit", "order"],
                nulls_distinct=None,
            ),
            models.CheckConstraint(name="packing_quantity_above_zero", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.shipment}: {self.item}"
