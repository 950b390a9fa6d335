"""What is stocked, counted and ordered, who supplies it, and the cables that runs are made of."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from takeoff.database.fields import ExactField, LengthField
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class Supplier(models.Model):
    """Who a site orders from."""

    class CountedIn(models.TextChoices):
        DAYS = "days", "Days"
        WORKING_DAYS = "working days", "Working days"

    site = models.ForeignKey(Site, models.CASCADE, related_name="suppliers")
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    lead_time_days = models.PositiveIntegerField(null=True, blank=True, help_text="Not known where empty.")
    lead_time_in = models.CharField(max_length=12, choices=CountedIn, default=CountedIn.DAYS)
    notice_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Days from delivery to tell of hidden damage. Empty: look in his terms."
    )
    takes_back = models.CharField(
        max_length=300, blank=True, help_text="What he takes back, and on what terms. Empty: not known, ask."
    )

    objects = SiteManager()

    class Meta:
        constraints = [models.UniqueConstraint(name="one_supplier_per_name", fields=["site", "name"])]

    def __str__(self) -> str:
        return self.name


class Item(models.Model):
    """A thing that is stocked, counted and ordered by its unit. Cable is no item: it has reels."""

    class Usage(models.TextChoices):
        FIXED = "fixed", "Fixed: needs exactly its takeoff"
        COUNTED = "counted", "Counted: screws, small bolts"
        WIPED = "wiped", "Wiped: tape, wipes, cleaner"
        BEAD = "bead", "Bead: sealant, grease"

    class ContentsUnit(models.TextChoices):
        FLUID_OUNCE = "fl oz", "fl oz (US)"
        CUBIC_INCH = "in^3", "in³"
        MILLILITRE = "mL", "mL"
        LITRE = "L", "L"

    site = models.ForeignKey(Site, models.CASCADE, related_name="items")
    code = models.CharField(max_length=60)
    description = models.CharField(max_length=200)
    unit = models.CharField(max_length=20, default="each")
    group = models.CharField(max_length=60, blank=True)
    pack = ExactField(default=1, validators=[MinValueValidator(0)], help_text="Ordered in whole packs of this many.")
    per_box = ExactField(null=True, blank=True)
    min_order = ExactField(default=0)
    supplier = models.ForeignKey(Supplier, models.PROTECT, null=True, blank=True, related_name="items")
    supplier_part = models.CharField(max_length=60, blank=True)
    lead_time_days = models.PositiveIntegerField(null=True, blank=True, help_text="The supplier's, where empty.")
    unit_cost = models.PositiveBigIntegerField(null=True, blank=True, help_text="In minor units of the currency.")
    shelf_life_days = models.PositiveIntegerField(null=True, blank=True)
    grade = models.CharField(max_length=120, blank=True)
    accept = models.CharField(max_length=300, blank=True, help_text="Accepted grades or items, separated by commas.")
    refuse = models.CharField(max_length=300, blank=True, help_text="Refused grades or items, separated by commas.")
    stock_length = LengthField(null=True, blank=True)
    contents = ExactField(null=True, blank=True)
    contents_unit = models.CharField(max_length=5, choices=ContentsUnit, blank=True)
    usage = models.CharField(max_length=7, choices=Usage, default=Usage.FIXED)
    for_run = models.BooleanField(default=False, help_text="Made for a run: no use to another.")
    fitted = models.CharField(max_length=120, blank=True, help_text="The part that it comes fitted on; empty: loose.")

    objects = SiteManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_item_per_code", fields=["site", "code"]),
            models.CheckConstraint(name="item_pack_above_zero", condition=Q(pack__gt=0)),
            models.CheckConstraint(
                name="what_is_made_for_a_run_is_used_as_taken_off", condition=Q(for_run=False) | Q(usage="fixed")
            ),
            models.CheckConstraint(name="item_min_order_not_negative", condition=Q(min_order__gte=0)),
        ]

    def __str__(self) -> str:
        return self.code

    def lead_days(self, supplier: Supplier | None) -> int | None:
        """Return the days from order to delivery: the item's own, else those of `supplier`; None: not known."""
        if self.lead_time_days is not None:
            return self.lead_time_days
        return supplier.lead_time_days if supplier else None


class Offer(models.Model):
    """
    What a supplier asked for an item on a day, from a quantity on; the rows of one day and part are one offer.

    What a supplier says later of the same part replaces it; what was said stays, so that prices can be seen over time.
    """

    item = models.ForeignKey(Item, models.CASCADE, related_name="offers")
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="offers")
    part = models.CharField(max_length=60, blank=True, help_text="The supplier's part number.")
    offered = models.DateField()
    valid_until = models.DateField(null=True, blank=True, help_text="The last day; empty: until another is made.")
    from_quantity = ExactField(default=0, help_text="The price holds from this many on, in the item's unit.")
    price = models.PositiveBigIntegerField(help_text="Of one unit of the item, in minor units of the currency.")
    pack = ExactField(default=1, help_text="Sold in whole packs of this many of the item's unit.")
    min_order = ExactField(default=0)
    lead_time_days = models.PositiveIntegerField(null=True, blank=True, help_text="The supplier's, where empty.")

    objects = SiteManager()
    site_path = "item__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="one_offer_per_day_and_quantity", fields=["item", "supplier", "part", "offered", "from_quantity"]
            ),
            models.CheckConstraint(
                name="offer_quantities_hold", condition=Q(pack__gt=0, from_quantity__gte=0, min_order__gte=0)
            ),
            models.CheckConstraint(
                name="offer_is_valid_from_its_day",
                condition=Q(valid_until__isnull=True) | Q(valid_until__gte=models.F("offered")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} from {self.supplier}, {self.offered:%Y-%m-%d}"


class UsagePrior(models.Model):
    """What a site believes of the use of a class of items, or of one item, before any stage is finished."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="usage_priors")
    usage = models.CharField(max_length=7, choices=Item.Usage, blank=True)
    item = models.OneToOneField(Item, models.CASCADE, null=True, blank=True, related_name="usage_prior")
    rate = ExactField(help_text="Use over plan.")
    rate_worth = ExactField(help_text="Mean stages that the rate is worth as evidence.")
    spread = ExactField(help_text="Of the use of one mean stage, as a fraction of its plan.")
    spread_worth = models.PositiveIntegerField(help_text="Finished stages that the spread is worth as evidence.")

    objects = SiteManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="one_usage_prior_per_class", fields=["site", "usage"], condition=Q(item__isnull=True)
            ),
            models.CheckConstraint(
                name="usage_prior_is_of_a_class_or_of_an_item",
                condition=Q(item__isnull=True, usage__in=["counted", "wiped", "bead"])
                | Q(item__isnull=False, usage=""),
            ),
            models.CheckConstraint(
                name="usage_prior_above_zero",
                condition=Q(rate__gt=0, rate_worth__gt=0, spread__gt=0, spread_worth__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return str(self.item or self.usage)


class VoltageClass(models.TextChoices):
    """Low voltage to 1000 V, medium voltage above."""

    LV = "LV", "LV, to 1000 V"
    MV = "MV", "MV, above 1000 V"


class Cable(models.Model):
    """A kind of cable: every reel holds one, every run names one."""

    class Material(models.TextChoices):
        COPPER = "Cu", "Copper"
        ALUMINUM = "Al", "Aluminum"

    class WeightUnit(models.TextChoices):
        POUNDS = "lb/kft", "lb per 1000 ft"
        KILOGRAMS = "kg/km", "kg per km"

    site = models.ForeignKey(Site, models.CASCADE, related_name="cables")
    code = models.CharField(max_length=60)
    size = models.CharField(max_length=20, help_text="AWG, kcmil or mm²: 4/0, 500, 240 mm2.")
    material = models.CharField(max_length=2, choices=Material)
    insulation = models.CharField(max_length=60, blank=True)
    voltage_class = models.CharField(max_length=2, choices=VoltageClass, default=VoltageClass.LV)
    shielded = models.BooleanField(default=False)
    diameter = LengthField(null=True, blank=True)
    weight = ExactField(null=True, blank=True)
    weight_unit = models.CharField(max_length=6, choices=WeightUnit, default=WeightUnit.POUNDS)
    buy_lengths = models.JSONField(default=list, blank=True, help_text="Whole 1/10 000 mm, as sold.")
    supplier = models.ForeignKey(Supplier, models.PROTECT, null=True, blank=True, related_name="cables")
    supplier_part = models.CharField(max_length=60, blank=True)
    lead_time_days = models.PositiveIntegerField(null=True, blank=True, help_text="The supplier's, where empty.")
    unit_cost = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="Of a foot or a metre, by the site's unit; minor units of the currency."
    )
    min_order = LengthField(default=0, help_text="The least length that the supplier takes an order for.")

    objects = SiteManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_cable_per_code", fields=["site", "code"]),
            models.CheckConstraint(name="cable_min_order_not_negative", condition=Q(min_order__gte=0)),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def lead_days(self) -> int | None:
        """Days from order to delivery: the cable's own, else its supplier's; None where nobody said."""
        if self.lead_time_days is not None:
            return self.lead_time_days
        return self.supplier.lead_time_days if self.supplier else None
