"""Which items of a finished stage are asked about: planned, nothing handed out, and nobody said what was used."""

from __future__ import annotations

from django.db.models import Exists, OuterRef, Sum

from kits.stock.models import Balance
from takeoff.rules.models import TakeoffLine
from takeoff.rules.queries import takeoff_lines
from takeoff.runs.models import NothingUsed, Run
from takeoff.sites.models import WORK_KINDS, Site


def asked_lines(site: Site, run: Run, stage: str) -> list[TakeoffLine]:
    """Return the takeoff lines of a stage that would be asked about once it is done, by item, in two queries."""
    of_stage = (
        Balance.objects.of(site).filter(place__run=run, place__stage=stage, place__kind__in=WORK_KINDS).order_by()
    )
    handed_out = {row["item"] for row in of_stage.values("item").annotate(total=Sum("quantity")) if row["total"] > 0}
    unused = NothingUsed.objects.of(site).filter(run=run, stage=stage, item=OuterRef("item"))
    lines = takeoff_lines(site).filter(~Exists(unused), takeoff__run=run, stage=stage, quantity__gt=0, item__fitted="")
    return [line for line in lines.order_by("item__code") if line.item_id not in handed_out]
