"""Reads about orders."""

from __future__ import annotations

from collections.abc import Collection

from kits.orders.models import OrderLine
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
