"""What to order from whom: the short lines of a reconciliation and its cables, one list for each supplier."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from kits.shortages.reckon.lines import CableLine, Reconciliation, ShortLine
from kits.shortages.told.rounded import readable


@dataclass(frozen=True, slots=True)
class OrderList:
    """All that one supplier is to send; `supplier` is empty where items and cables name none."""

    supplier_id: int | None
    supplier: str
    lines: tuple[ShortLine, ...]
    cables: tuple[CableLine, ...] = ()


def order_lists(reconciliation: Reconciliation) -> tuple[OrderList, ...]:
    """
    Return one list for each supplier with something to order, by name; items that name no supplier come last.

    The figures are those that people read.
    """
    by_supplier: dict[tuple[bool, str, int | None], tuple[list[ShortLine], list[CableLine]]]
    by_supplier = defaultdict(lambda: ([], []))
    for line in reconciliation.short_lines:
        if line.order > 0:
            item = line.item
            by_supplier[(item.supplier_id is None, item.supplier, item.supplier_id)][0].append(readable(line))
    for cable in reconciliation.cables_to_buy:
        if cable.order and cable.ware:
            ware = cable.ware
            by_supplier[(ware.supplier_id is None, ware.supplier, ware.supplier_id)][1].append(cable)
    ordered = sorted(by_supplier.items(), key=lambda entry: (*entry[0][:2], entry[0][2] or 0))
    return tuple(
        OrderList(supplier_id, supplier, tuple(lines), tuple(cables))
        for (_, supplier, supplier_id), (lines, cables) in ordered
    )
