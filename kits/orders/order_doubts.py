"""What a load is asked about orders: what was sent and is written over, and quantities that nobody sells."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from kits.orders.course.order_steps import NOT_SENT
from kits.orders.models import Order, OrderLine
from takeoff.catalogue.models import Item
from takeoff.sheets.context import LoadContext
from takeoff.sheets.table_kinds import Row
from takeoff.units.lengths import length_unit
from takeoff.units.measures import VOLUME_SPELLINGS, WEIGHT_SPELLINGS, measure_unit
from takeoff.units.unit_words import unit_for

OPEN = tuple(state for state in Order.State if state.is_open)


def look_at_orders(
    context: LoadContext, rows: Sequence[Row], orders: Mapping[str, Order], lines: Iterable[OrderLine]
) -> None:
    """
    Ask about what a sheet says against an order that was sent, and about quantities that are not sold.

    orders : those of the site as they are now, by name. lines : theirs, as they are now.
    """
    sent = {(line.order_id, line.item_id): line for line in lines if line.item_id is not None}
    for row in rows:
        item, order = row["item"], orders.get(row["order"])
        if order is not None and Order.State(order.state).is_open:
            _against_sent(context, row, order, sent)
        if item is None:
            continue  # cable is bought by the reel
        look_at_half(context, row, item)
        if item.supplier_id and item.supplier_id != row["supplier"].pk:
            context.caution(row, "supplier", f"{item} is bought from {item.supplier}: is another supplier meant?")
        if row["quantity"] % item.pack:
            pack = _number(item.pack)
            context.caution(row, "quantity", f"{item} comes in packs of {pack}: this is no whole number of them")
        elif row["quantity"] < item.min_order:
            context.caution(row, "quantity", f"the least order of {item} is {_number(item.min_order)}")


def look_at_half(context: LoadContext, row: Row, item: Item) -> None:
    """Ask about a part of what is counted in whole pieces: half a lug."""
    if row["quantity"] % 1 and not divisible(item.unit):
        words = "pieces" if item.unit == "each" else unit_for(item.unit, 0)
        context.caution(row, "quantity", f"{item} is counted in whole {words}")


def divisible(unit: str) -> bool:
    """
    Return whether a unit is a measure, of which there is a part, and no piece.

    >>> divisible("ft"), divisible("kg"), divisible("each"), divisible("cartridge")
    (True, True, False, False)
    """
    return bool(length_unit(unit) or measure_unit(unit, VOLUME_SPELLINGS) or measure_unit(unit, WEIGHT_SPELLINGS))


def tell_orders(context: LoadContext) -> None:
    """Say which orders are open of items whose need a load moves, and ask where nothing of it is needed any more."""
    before: dict[str, Decimal] = defaultdict(Decimal)
    after: dict[str, Decimal] = defaultdict(Decimal)
    for moved in context.effects.moved.values():
        for item, _stage, was, now in moved:
            before[item] += Decimal(was)
            after[item] += Decimal(now)
    lines = OrderLine.objects.of(context.site).filter(item__code__in=before, order__state__in=OPEN)
    for line in lines.select_related("order", "item").order_by("order__name", "item__code") if before else ():
        assert line.item is not None  # it was found by its item
        code = line.item.code
        by = after[code] - before[code]
        if by:
            change = f"{_number(abs(by))} {'more' if by > 0 else 'fewer'}"
            context.effects.touched.append(
                f"Order {line.order}, {line.order.get_state_display().lower()}: {_number(line.quantity)} of {code}, "
                f"of which runs need {change} than before."
            )


def _against_sent(context: LoadContext, row: Row, order: Order, sent: Mapping[tuple[int, int], OrderLine]) -> None:
    """Ask about a row that writes over what the supplier was told."""
    known = f"{order} was sent: does the supplier know?"
    line = sent.get((order.pk, row["item"].pk)) if row["item"] else None
    if line is not None and line.quantity != row["quantity"]:
        context.caution(row, "quantity", f"was {_number(line.quantity)}, and {known}")
    if order.supplier_id != row["supplier"].pk:
        context.caution(row, "supplier", f"was {order.supplier}, and {known}", about=order.name)
    if row["state"] in {*NOT_SENT, Order.State.CANCELLED} and row.gives("state"):
        context.caution(row, "state", f"was {order.state}, and {known}", about=order.name)


def _number(value: Decimal) -> str:
    return f"{value.normalize():f}"
