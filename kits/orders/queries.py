"""Reads about orders."""

from __future__ import annotations

from collections.abc import Collection

from kits.orders.models import OrderLine
from takeoff.sites.models import Site


def runs_ordered_for(site: Site, items: Collection[int]) -> dict[tuple[int, int], frozenset[int]]:
    """
    Return, by order and item, the run that an order asks for it for; nothing where its lines name several or none.

    items : keys of what is made for runs. What comes of an order that names several is of whoever its lot says.
    """
    found: dict[tuple[int, int], set[int | None]] = {}
    rows = OrderLine.objects.of(site).filter(item__in=items) if items else OrderLine.objects.none()
    for order, item, run in rows.values_list("order_id", "item_id", "run_id"):
        if item is not None:
            found.setdefault((order, item), set()).add(run)
    return {key: frozenset(filter(None, runs)) for key, runs in found.items() if len(runs) == 1}
