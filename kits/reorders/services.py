"""Drafting orders from what is short, changing drafts, and sending orders with their workbook."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from kits.orders.course.order_steps import NOT_SENT, Step
from kits.orders.models import Order, OrderFile, OrderLine, OrderStep
from kits.reorders.order_file import write_order_file
from kits.reorders.proposals import CABLE, ITEM, Proposed, why_left_out
from kits.reorders.queries import next_name, propose
from takeoff.catalogue.models import Cable, Item
from takeoff.database.locks import in_turn, lock
from takeoff.people.models import User
from takeoff.records.models import Record
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import RecordError
from takeoff.runs.models import Run
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.shown import number


@dataclass(frozen=True, slots=True)
class Drafted:
    """What became of a proposal: the orders that were drafted, and what was left out and why."""

    orders: tuple[Order, ...]
    left_out: tuple[tuple[Proposed, str], ...]
    changed: tuple[str, ...]


def draft_orders(*, site: Site, sender: User, seen: Mapping[str, int]) -> Drafted:
    """
    Draft an order for each supplier of what was proposed, as much as is lacking now.

    seen : by the key of each line, how much the person was shown. What others drafted meanwhile is not drafted again,
    and what changed is told.
    """
    return in_turn(lambda: _draft(site, sender, seen))


def _draft(site: Site, sender: User, seen: Mapping[str, int]) -> Drafted:
    wares = {key.split("/")[0] for key in seen}
    lock_wares(site, wares)
    by_supplier: dict[int, list[Proposed]] = defaultdict(list)
    left_out, changed = [], []
    for line in propose(site, wares):
        if line.key not in seen:
            continue
        if why := why_left_out(line):
            left_out.append((line, why))
            continue
        if line.quantity != seen[line.key]:
            changed.append(
                f"{line.code}: {number(seen[line.key])} were proposed, {number(line.quantity)} are lacking now"
            )
        assert line.supplier_id is not None
        by_supplier[line.supplier_id].append(line)
    orders = []
    runs = {run.name: run for run in Run.objects.of(site)} if by_supplier else {}
    for supplier, lines in by_supplier.items():
        order = Order.objects.create(site=site, name=next_name(site), supplier_id=supplier)
        OrderLine.objects.bulk_create(
            OrderLine(
                order=order,
                **_ware(line.ware),
                run=runs.get(line.run),
                size=line.size[:60],
                reel_length=line.reel_length and from_ticks(line.reel_length),
                quantity=from_ticks(line.quantity),
                need_by=line.need_by,
                price=line.unit_price,
                reason=line.reason,
            )
            for line in lines
        )
        tell(order, Step.DRAFTED, sender)
        orders.append(order)
    return Drafted(tuple(orders), tuple(left_out), tuple(changed))


def lock_wares(site: Site, wares: Collection[str]) -> None:
    """Lock all items, then all cables, of the suppliers of some wares: who proposes of one of them waits."""
    for model, sort in ((Item, ITEM), (Cable, CABLE)):
        named = {int(ware[1:]) for ware in wares if ware.startswith(sort)}
        rows: Any = model
        suppliers = rows.objects.of(site).filter(pk__in=named).values("supplier")
        lock(rows.objects.of(site).filter(supplier__in=suppliers) | rows.objects.of(site).filter(pk__in=named))


def _ware(ware: str) -> dict[str, int]:
    return {"item_id" if ware.startswith(ITEM) else "cable_id": int(ware[1:])}


def tell(order: Order, step: Step, sender: User, **said: Any) -> Record:
    """Keep a step of an order as its record."""
    row = {"id": str(uuid4()), "order": order, "step": step.value, "at": timezone.now(), "by": sender.get_username()}
    return keep_one(site=order.site, kind="order_steps", row=row | said, sender=sender)


def held(order: Order) -> Order:
    """Return an order, locked. Raises RecordError where it was sent or ended meanwhile."""
    (found,) = lock(Order.objects.of(order.site).filter(pk=order.pk))
    if found.state not in NOT_SENT:
        raise RecordError(f"{order} is {found.state}: it is no draft any more.")
    return found


@transaction.atomic
def change_line(
    *, order: Order, line_id: int, sender: User, quantity: Decimal, price: int | None, need_by: date | None
) -> None:
    """Change a line of a draft; what changed is told as a step. Raises RecordError."""
    held(order)
    line = OrderLine.objects.of(order.site).select_related("item", "cable").get(order=order, pk=line_id)
    new = {"quantity": quantity, "price": price, "need_by": need_by}
    changed = [
        f"{name.replace('_', ' ')} {_plain(getattr(line, name))} → {_plain(value)}"
        for name, value in new.items()
        if getattr(line, name) != value
    ]
    if not changed:
        return
    for name, value in new.items():
        setattr(line, name, value)
    line.save(update_fields=list(new))
    # The step's note is read by those who see no prices, too.
    told = [words if not words.startswith("price") else "price" for words in changed]
    tell(order, Step.CHANGED, sender, note=f"{line.item or line.cable}: {', '.join(told)}"[:300])


def _plain(value: Decimal | int | date | None) -> str:
    return "none" if value is None else number(to_ticks(value)) if isinstance(value, Decimal) else str(value)


@transaction.atomic
def add_line(*, order: Order, sender: User, item: Item, quantity: Decimal, reason: str) -> None:
    """Add a line to a draft by hand, and why. Raises RecordError."""
    held(order)
    if OrderLine.objects.of(order.site).filter(order=order, item=item, run=None).exists():
        raise RecordError(f"{order} has a line of {item}: change its quantity.", column="item")
    OrderLine.objects.create(order=order, item=item, quantity=quantity, price=item.unit_cost, reason=reason)
    tell(order, Step.CHANGED, sender, note=f"{item}: {number(to_ticks(quantity))} added by hand. {reason}"[:300])


@transaction.atomic
def take_out(*, order: Order, line_id: int, sender: User, reason: str) -> None:
    """Take a line out of a draft, and say why. Raises RecordError."""
    held(order)
    line = OrderLine.objects.of(order.site).select_related("item", "cable").get(order=order, pk=line_id)
    if OrderStep.objects.of(order.site).filter(line=line).exists() or line.deliveries.exists():
        raise RecordError(f"{line} was sent before: what was done about it stays. Set its quantity instead.")
    line.delete()
    tell(order, Step.CHANGED, sender, note=f"{line.item or line.cable} taken out: {reason}"[:300])


def send_order(*, order: Order, sender: User, row: Mapping[str, Any]) -> OrderFile:
    """
    Send an order: keep the step and the workbook that goes to the supplier, byte for byte. Raises RecordError.

    row : the cells of the record. Sent twice by pressing twice it is one file.
    """

    def send() -> OrderFile:
        record = keep_one(site=order.site, kind="order_steps", row=row, sender=sender)
        step = OrderStep.objects.of(order.site).get(order=order, event_id=record.event_id)
        assert step.revision is not None  # it was sent
        known = OrderFile.objects.of(order.site).filter(order=order, revision=step.revision).first()
        if known is not None:
            return known
        name, content = write_order_file(order, step)
        return OrderFile.objects.create(
            order=order,
            revision=step.revision,
            name=name,
            content=content,
            sha256=hashlib.sha256(content).hexdigest(),
            made_at=timezone.now(),
            made_by=sender,
        )

    return in_turn(send)
