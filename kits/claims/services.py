"""Keeping claims and their steps, and ordering what a claim is settled with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from django.db import transaction

from kits.claims.models import Claim, ClaimLine, ClaimStep
from kits.orders.models import Order, OrderLine
from takeoff.units.exact import from_ticks, to_ticks


@transaction.atomic
def record_steps(
    *, claims: Sequence[Claim], lines: Sequence[ClaimLine], steps: Sequence[ClaimStep], taken_back: Sequence[ClaimStep]
) -> None:
    """Keep claims that are opened, with their lines, and what was done about claims or never was."""
    Claim.objects.bulk_create(claims)
    ClaimLine.objects.bulk_create(lines)
    ClaimStep.objects.bulk_create(steps)
    ClaimStep.objects.bulk_create(taken_back)


@transaction.atomic
def order_replacement(*, claim: Claim, lines: Iterable[ClaimLine], on: date) -> Order:
    """
    Order anew, free of charge, what a claim is settled with, and return the order.

    It goes to who sent the shipment, which must be known. lines : of the claim, with their packing lines, items and
    kits. What is made for a run is ordered for the run of its kit.
    """
    wanted: Counter[tuple[int, int | None]] = Counter()
    for line in lines:
        listed = line.packing_line
        run = listed.kit.run_id if listed.kit and listed.item.for_run else None
        wanted[listed.item_id, run] += lacking(line)
    assert claim.shipment.supplier is not None
    order = Order(
        site=claim.shipment.site,
        name=replacement_name(claim),
        supplier=claim.shipment.supplier,
        state=Order.State.SENT,
    )
    order.save()
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order,
            item_id=item,
            run_id=run,
            quantity=from_ticks(quantity),
            kind=OrderLine.Charge.NO_CHARGE,
            claim=claim,
            sent=on,
        )
        for (item, run), quantity in wanted.items()
        if quantity
    )
    return order


@transaction.atomic
def withdraw_replacement(*, claim: Claim) -> None:
    """Take the order away that a claim was settled with; nothing has been sent of it."""
    for order in Order.objects.of(claim.shipment.site).filter(lines__claim=claim).distinct():
        order.delete()


def replacement_name(claim: Claim) -> str:
    """Return what the order is called that replaces what a claim asks for."""
    return f"{claim.shipment.name[:40]} claim {claim.number}"


def lacking(line: ClaimLine) -> int:
    """Return how much of what a line promised is to be sent again. [ticks]"""
    return to_ticks(line.short) + to_ticks(line.damaged) + to_ticks(line.refused)
