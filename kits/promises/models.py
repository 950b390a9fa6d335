"""What was promised: kits, each a named set of items for a run or a purpose."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from takeoff.catalogue.models import Item
from takeoff.database.fields import ExactField
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site
from takeoff.sites.scope import SiteManager


class Kit(models.Model):
    """A named set of items that a supplier promised, for one run or for the site."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="kits")
    name = models.CharField(max_length=60)
    run = models.ForeignKey(Run, models.PROTECT, null=True, blank=True, related_name="kits")
    revision = models.CharField(max_length=20, blank=True, help_text="Of the drawing that it was promised against.")

    objects = SiteManager()

    class Meta:
        constraints = [models.UniqueConstraint(name="one_kit_per_name", fields=["site", "name"])]

    def __str__(self) -> str:
        return self.name


class KitBox(models.Model):
    """A place that serves a kit: what lies there is for the kit's run. A kit may have several, such as its crates."""

    kit = models.ForeignKey(Kit, models.CASCADE, related_name="boxes")
    place = models.OneToOneField(Place, models.PROTECT, related_name="kit_box")

    objects = SiteManager()
    site_path = "kit__site"

    def __str__(self) -> str:
        return f"{self.kit}: {self.place}"


class KitLine(models.Model):
    """A quantity of an item in a kit."""

    kit = models.ForeignKey(Kit, models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="kit_lines")
    quantity = ExactField()

    objects = SiteManager()
    site_path = "kit__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_kit_line_per_item", fields=["kit", "item"]),
            models.CheckConstraint(name="kit_quantity_above_zero", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.kit}: {self.item}"
