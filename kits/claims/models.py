"""Claims for goods that were promised and did not come whole."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from kits.claims.course.claim_steps import SETTLED, Step
from kits.gate.models import Arrival
from kits.shipments.models import PackingLine, Shipment
from takeoff.database.fields import ExactField
from takeoff.records.reported import Reported
from takeoff.sites.scope import SiteManager


class Claim(models.Model):
    """
    What is asked for of one truck's goods. Opened by its first step; how it stands is in its steps.

    arrival : None where nobody took a truck in.
    """

    shipment = models.ForeignKey(Shipment, models.PROTECT, related_name="claims")
    number = models.PositiveIntegerField(help_text="Among the claims of its shipment.")
    arrival = models.ForeignKey(Arrival, models.PROTECT, null=True, blank=True, related_name="claims")

    objects = SiteManager()
    site_path = "shipment__site"

    class Meta:
        constraints = [models.UniqueConstraint(name="one_claim_per_number", fields=["shipment", "number"])]

    def __str__(self) -> str:
        return f"Claim {self.number} of {self.shipment}"


class ClaimLine(models.Model):
    """What a claim asks for of one line, as the report stood when it was opened. wrong : of `came`, in its unit."""

    claim = models.ForeignKey(Claim, models.PROTECT, related_name="lines")
    packing_line = models.ForeignKey(PackingLine, models.PROTECT, related_name="claim_lines")
    short = ExactField(default=0)
    damaged = ExactField(default=0)
    refused = ExactField(default=0)
    wrong = ExactField(default=0)
    came = models.CharField(max_length=500, blank=True, help_text="What came instead.")

    objects = SiteManager()
    site_path = "claim__shipment__site"
    made_with = "claim"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_claim_line_per_packing_line", fields=["claim", "packing_line"]),
            models.CheckConstraint(
                name="claimed_not_negative", condition=Q(short__gte=0, damaged__gte=0, refused__gte=0, wrong__gte=0)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.claim}: {self.packing_line.item}"


class ClaimStep(Reported):
    """Something that was done about a claim."""

    class Kind(models.TextChoices):
        TOLD = Step.TOLD.value, "Told the carrier"
        FILED = Step.FILED.value, "Filed"
        ACKNOWLEDGED = Step.ACKNOWLEDGED.value, "The carrier has it"
        DECLINED = Step.DECLINED.value, "Declined"
        CREDIT = Step.CREDIT.value, "Settled by credit"
        REPLACEMENT = Step.REPLACEMENT.value, "Settled by replacement"
        DROPPED = Step.DROPPED.value, "Dropped"

    claim = models.ForeignKey(Claim, models.PROTECT, related_name="steps")
    step = models.CharField(max_length=22, choices=Kind)
    reference = models.CharField(max_length=60, blank=True, help_text="The number under which others know the claim.")
    amount = models.BigIntegerField(null=True, blank=True, help_text="What it was settled for, in minor units.")

    objects = SiteManager()
    site_path = "claim__shipment__site"

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_claim_step_per_id", fields=["claim", "event_id"]),
            models.CheckConstraint(
                name="claim_amount_where_settled",
                condition=Q(amount__isnull=True) | Q(amount__gte=0, step__in=sorted(step.value for step in SETTLED)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.claim}: {self.step}"
