"""Keeping claims and their steps, and ordering what a claim is settled with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from datetime import date

from django.db import transaction

from kits.claims.models import Claim, ClaimLine, ClaimStep
from kits.orders.models import Order, OrderLine
from kits.orders.services import bring_to, step_to_states
from takeoff.sites.models import Site
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
def order_replacements(*, site: Site, settled: Sequence[tuple[Claim, Sequence[ClaimLine], date]]) -> None:
    """
    Order anew, free of charge, what claims are settled with: an order for each claim.

    It goes to who sent the shipment, which must be known, on the day that is given. The lines of a claim come with
    their packing lines, items and kits. What is made for a run is ordered for the run of its kit.
    """
    orders, order_lines = [], []
    for claim, lines, on in settled:
        wanted: Counter[tuple[int, int | None]] = Counter()
        for line in lines:
            listed = line.packing_line
            run = listed.kit.run_id if listed.kit and listed.item.for_run else None
            wanted[listed.item_id, run] += lacking(line)
        supplier = claim.shipment.supplier
        assert supplier is not None
        order = Order(site=site, name=replacement_name(claim), supplier=supplier, state=Order.State.SENT)
        orders.append(order)
        order_lines += [
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
        ]
    Order.objects.bulk_create(orders)
    OrderLine.objects.bulk_create(order_lines)
    step_to_states(orders=orders, sender=None)


@transaction.atomic
def withdraw_replacements(*, site: Site, claims: Sequence[Claim]) -> None:
    """Cancel the orders that claims were settled with; nothing has been sent of them."""
    orders = set(OrderLine.objects.of(site).filter(claim__in=claims).values_list("order", flat=True))
    bring_to(site=site, orders=orders, state=Order.State.CANCELLED, note="its claim was not settled so after all")


@transaction.atomic
def replace_after_all(*, site: Site, orders: Collection[int]) -> None:
    """Let orders count again that were cancelled when what settled their claims was taken back."""
    bring_to(site=site, orders=orders, state=Order.State.SENT, note="its claim is settled so after all")


def replacement_name(claim: Claim) -> str:
    """Return what the order is called that replaces what a claim asks for."""
    return f"{claim.shipment.name[:48]} claim {claim.number}"


def lacking(line: ClaimLine) -> int:
    """Return how much of what a line promised is to be sent again. [ticks]"""
    return to_ticks(line.short) + to_ticks(line.damaged) + to_ticks(line.refused)
