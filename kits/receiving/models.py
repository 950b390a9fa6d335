"""Counts against packing lists."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from kits.receiving.counting.came_instead import Verdict
from kits.shipments.models import Package, PackingLine, Shipment
from kits.stock.models import Posting
from takeoff.catalogue.models import Item
from takeoff.database.fields import ExactField
from takeoff.sites.scope import SiteManager


class Receipt(models.Model):
    """
    One count of what a shipment brought: the act of a posting, with what the packing list said.

    A count that is of the same goods as earlier ones takes their place: they are taken back as of its moment.
    """

    class Again(models.TextChoices):
        SAME = "same", "The same goods"
        FURTHER = "further", "Further goods"

    posting = models.OneToOneField(Posting, models.PROTECT, related_name="receipt")
    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="receipts")
    package = models.ForeignKey(
        Package, models.PROTECT, null=True, blank=True, related_name="receipts", help_text="Empty for a count over all."
    )
    again = models.CharField(
        max_length=7, choices=Again, blank=True, help_text="Empty where nothing was counted before."
    )

    objects = SiteManager()
    site_path = "shipment__site"
    made_with = "posting"

    def __str__(self) -> str:
        return f"{self.posting}"


class ReceiptLine(models.Model):
    """
    What was counted of an item.

    The line of the packing list that it answers is empty when the list does not name the item. A partial count
    leaves that line open; any other closes it. `covers` is what the count came to of the listed item, in its unit:
    all that was counted, nothing of a wrong item, an accepted substitute by its contents. `verdict`, `held` and `why`
    are what was judged when it was counted: what an item accepts or refuses later does not change it.
    """

    class Condition(models.TextChoices):
        GOOD = "good", "Good"
        NOT_OPENED = "not opened", "As listed, not opened"
        DAMAGED = "damaged", "Damaged"
        WRONG_ITEM = "wrong item", "Wrong item"

    class Judged(models.TextChoices):
        AS_LISTED = Verdict.AS_LISTED.value, "As listed"
        SUBSTITUTE = Verdict.SUBSTITUTE.value, "Accepted substitute"
        REFUSED = Verdict.REFUSED.value, "Refused"
        WRONG = Verdict.WRONG.value, "Wrong item"

    receipt = models.ForeignKey(Receipt, models.PROTECT, related_name="lines")
    packing_line = models.ForeignKey(PackingLine, models.PROTECT, null=True, blank=True, related_name="receipt_lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="receipt_lines")
    counted = ExactField(help_text="In the unit of what came.")
    covers = ExactField(help_text="Of the item that the packing list names.")
    condition = models.CharField(max_length=10, choices=Condition, default=Condition.GOOD)
    came_item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="+")
    came_text = models.CharField(max_length=200, blank=True, help_text="What came, where no item of the site is it.")
    grade = models.CharField(max_length=120, blank=True)
    partial = models.BooleanField(default=False)
    verdict = models.CharField(max_length=19, choices=Judged, default=Judged.AS_LISTED)
    held = models.BooleanField(default=False, help_text="Whether it was put on hold.")
    why = models.CharField(max_length=800, blank=True, help_text="Why it was held, or counts as something else.")
    note = models.CharField(max_length=300, blank=True)

    objects = SiteManager()
    site_path = "receipt__shipment__site"
    made_with = "receipt"

    class Meta:
        constraints = [models.CheckConstraint(name="counted_not_negative", condition=Q(counted__gte=0, covers__gte=0))]

    def __str__(self) -> str:
        return f"{self.receipt}: {self.item}"
