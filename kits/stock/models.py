"""
The stock ledger: double entry, append-only.

A posting is one act by one person; its moves take quantities from place to place. Balances are kept in the same
transaction, and the database refuses to change or delete what was posted (`takeoff/database/append_only.py`).
"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from takeoff.catalogue.models import Item
from takeoff.database.fields import ExactField, FractionField
from takeoff.people.models import User
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site
from takeoff.sites.scope import SiteManager


class Posting(models.Model):
    """One act by one person from one document."""

    class Kind(models.TextChoices):
        RECEIPT = "receipt", "Receipt"
        ISSUE = "issue", "Hand-out"
        RETURN = "return", "Return"
        COUNT = "count", "Count"
        TRANSFER = "transfer", "Transfer"
        RELEASE = "release", "Release"
        SCRAP = "scrap", "Scrap"
        SEND_BACK = "send_back", "Return to supplier"
        LAST_DAY = "last_day", "Last usable day"
        REVERSAL = "reversal", "Reversal"
        REPLACED = "replaced", "Counted again"

    site = models.ForeignKey(Site, models.CASCADE, related_name="postings")
    event_id = models.CharField(max_length=80)
    kind = models.CharField(max_length=9, choices=Kind)
    content_hash = models.CharField(max_length=64)
    at = models.DateTimeField(help_text="When it happened, by the device.")
    recorded_at = models.DateTimeField(help_text="When the server took it.")
    by = models.CharField(max_length=120, blank=True)
    recorded_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    reason = models.CharField(max_length=300, blank=True)
    document = models.CharField(max_length=120, blank=True)
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversed_by")
    lender = models.ForeignKey(Run, models.PROTECT, null=True, blank=True, related_name="lendings")
    restores = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="restored_by",
        help_text="The count whose figure it leaves as counted, after something from before the count came late.",
    )  # fmt: skip

    objects = SiteManager()

    class Meta:
        constraints = [models.UniqueConstraint(name="one_posting_per_id", fields=["site", "event_id"])]
        indexes = [
            # For the books as of an earlier day: what was posted after it.
            models.Index(name="posting_by_date", fields=["site", "at"]),
            # Few postings take one back: of all of them, an index is mostly of what is empty, and is thought useless.
            models.Index(name="posting_taken_back", fields=["reverses"], condition=Q(reverses__isnull=False)),
        ]

    def __str__(self) -> str:
        return self.event_id


class Move(models.Model):
    """A quantity of one item and lot going from one place to another."""

    posting = models.ForeignKey(Posting, models.PROTECT, related_name="moves")
    item = models.ForeignKey(Item, models.PROTECT, related_name="moves")
    lot = models.CharField(max_length=60, default="", blank=True)
    source = models.ForeignKey(Place, models.PROTECT, related_name="moves_out")
    target = models.ForeignKey(Place, models.PROTECT, related_name="moves_in")
    quantity = ExactField()

    objects = SiteManager()
    site_path = "posting__site"
    made_with = "posting"

    class Meta:
        constraints = [
            models.CheckConstraint(name="move_quantity_above_zero", condition=Q(quantity__gt=0)),
            models.CheckConstraint(name="move_goes_somewhere_else", condition=~Q(source=F("target"))),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.item}: {self.source} → {self.target}"


class BinCount(models.Model):
    """What was counted of an item's lot at a place: what happened before and comes later leaves the figure alone."""

    posting = models.OneToOneField(Posting, models.PROTECT, related_name="bin_count")
    place = models.ForeignKey(Place, models.PROTECT, related_name="bin_counts")
    item = models.ForeignKey(Item, models.PROTECT, related_name="bin_counts")
    lot = models.CharField(max_length=60, default="", blank=True)
    counted = ExactField()

    objects = SiteManager()
    site_path = "posting__site"
    made_with = "posting"

    class Meta:
        constraints = [models.CheckConstraint(name="bin_count_not_negative", condition=Q(counted__gte=0))]

    def __str__(self) -> str:
        return f"{self.posting}: {self.counted} {self.item}"


class BoxShare(models.Model):
    """A stage over which the count of a gang box shares what is gone; `weight`: in what proportion."""

    posting = models.ForeignKey(Posting, models.PROTECT, related_name="box_shares")
    place = models.ForeignKey(Place, models.PROTECT, related_name="box_shares")
    weight = ExactField()

    objects = SiteManager()
    site_path = "posting__site"

    class Meta:
        constraints = [models.CheckConstraint(name="box_share_not_negative", condition=Q(weight__gte=0))]

    def __str__(self) -> str:
        return f"{self.posting}: {self.place}"


class LotDay(models.Model):
    """What one posting says is the last usable day of a lot. What was said last rules; a mending may say another."""

    posting = models.ForeignKey(Posting, models.PROTECT, related_name="lot_days")
    item = models.ForeignKey(Item, models.PROTECT, related_name="lot_days")
    lot = models.CharField(max_length=60)
    day = models.DateField()

    objects = SiteManager()
    site_path = "posting__site"
    made_with = "posting"

    def __str__(self) -> str:
        return f"{self.item} {self.lot}: {self.day:%Y-%m-%d}"


class Lot(models.Model):
    """
    The last day on which a lot of an item can be used, and how it lies.

    What came in place of the item lies and is counted in its own pieces, each of which covers so many of the item.
    """

    item = models.ForeignKey(Item, models.PROTECT, related_name="lots")
    code = models.CharField(max_length=60)
    expires = models.DateField(null=True, blank=True)
    came_item = models.ForeignKey(
        Item, models.PROTECT, null=True, blank=True, related_name="+", help_text="Empty where the item itself came."
    )
    covers = FractionField(default=1, help_text="Units of the item that one piece covers.")

    objects = SiteManager()
    site_path = "item__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_lot_per_code", fields=["item", "code"]),
            models.CheckConstraint(
                name="lot_says_what_came_that_covers_otherwise", condition=Q(came_item__isnull=False) | Q(covers=1)
            ),
        ]

    def __str__(self) -> str:
        return self.code


class Balance(models.Model):
    """What lies at a place, by item and lot; kept with every move, rebuilt and compared by `audit`."""

    place = models.ForeignKey(Place, models.PROTECT, related_name="balances")
    item = models.ForeignKey(Item, models.PROTECT, related_name="balances")
    lot = models.CharField(max_length=60, default="", blank=True)
    quantity = ExactField(default=0)
    # Copied from the place's kind, so that the database can hold real places at or above zero.
    may_be_negative = models.BooleanField(default=False)

    objects = SiteManager()
    site_path = "place__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_balance_per_place_item_lot", fields=["place", "item", "lot"]),
            models.CheckConstraint(
                name="real_places_hold_no_less_than_nothing", condition=Q(quantity__gte=0) | Q(may_be_negative=True)
            ),
        ]
        indexes = [
            # For shortages, which read every balance of an item.
            models.Index(name="balance_by_item", fields=["item", "place"]),
        ]

    def __str__(self) -> str:
        return f"{self.place}: {self.quantity} {self.item}"
