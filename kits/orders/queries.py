"""Reads about orders."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable

from kits.orders.course.order_steps import NOT_SENT, Step, state_after
from kits.orders.models import Order, OrderDelivery, OrderFile, OrderLine, OrderStep
from takeoff.records.reported import standing
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks


def runs_ordered_for(site: Site, items: Collection[int]) -> dict[tuple[int, int], dict[int | None, int]]:
    """
    Return, by order and item, how much an order asks for which run, in the order of its lines. [ticks]

    items : keys of what is made for runs.
    """
    found: dict[tuple[int, int], dict[int | None, int]] = {}
    rows = OrderLine.objects.of(site).filter(item__in=items).order_by("pk")
    named = ("order_id", "item_id", "run_id", "quantity")
    for order, item, run, quantity in rows.values_list(*named) if items else ():
        if item is not None:
            runs = found.setdefault((order, item), {})
            runs[run] = runs.get(run, 0) + to_ticks(quantity)
    return found


def asked_for(site: Site) -> list[OrderLine]:
    """Return the lines of orders that are not sent yet, with their orders, in the order of those. In one query."""
    rows = OrderLine.objects.of(site).filter(order__state__in=NOT_SENT).select_related("order", "run")
    return list(rows.order_by("order__name", "pk"))


def confirmed(site: Site, orders: Collection[int] | None = None) -> dict[int, list[OrderDelivery]]:
    """Return what counts as confirmed of each line, by its key; of some orders, or of all. In one query."""
    rows = standing(OrderDelivery.objects.of(site))
    if orders is not None:
        rows = rows.filter(line__order__in=orders)
    by_line: dict[int, list[OrderDelivery]] = defaultdict(list)
    for row in rows.order_by("pk"):
        by_line[row.line_id].append(row)
    return {line: last_reply(of_line) for line, of_line in by_line.items()}


def out_of_step(site: Site) -> list[str]:
    """Return the orders that are not as far as their steps say."""
    steps: dict[int, list[Step]] = defaultdict(list)
    done = standing(OrderStep.objects.of(site)).filter(line=None).order_by("pk")
    for order, step in done.values_list("order", "step"):
        steps[order].append(Step(step))
    answered = set(standing(OrderDelivery.objects.of(site)).values_list("line__order", flat=True))
    orders = Order.objects.of(site).order_by("name")
    return [
        f"{order} is {order.state}"
        for order in orders
        if state_after(steps[order.pk], answered=order.pk in answered) != order.state
    ]


def altered_files(site: Site) -> list[str]:
    """Return the files for suppliers whose bytes are not those that were sent."""
    files = OrderFile.objects.of(site).order_by("pk").iterator(chunk_size=20)
    return [str(file) for file in files if hashlib.sha256(bytes(file.content)).hexdigest() != file.sha256]


def last_reply(rows: Iterable[OrderDelivery]) -> list[OrderDelivery]:
    """Return the rows of the reply to a line that counts: the last one. rows : those that stand, as they were kept."""
    rows = list(rows)
    if not rows:
        return []
    last = max(enumerate(rows), key=lambda pair: (pair[1].at, pair[0]))[1].reply
    return [row for row in rows if row.reply == last]
