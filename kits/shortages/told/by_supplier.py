"""What to order from whom: the short lines of a reconciliation, one list for each supplier."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from kits.shortages.reckon.lines import Reconciliation, ShortLine
from kits.shortages.told.rounded import readable


@dataclass(frozen=True, slots=True)
class OrderList:
    """
    All that one supplier is to send; `supplier` is empty where items name none.

    lines : what is to be ordered. late : what is on the way and is to come sooner.
    """

    supplier_id: int | None
    supplier: str
    lines: tuple[ShortLine, ...]
    late: tuple[ShortLine, ...] = ()


def order_lists(reconciliation: Reconciliation) -> tuple[OrderList, ...]:
    """
    Return one list for each supplier with something to order or expedite, by name; without a supplier comes last.

    The figures are those that people read.
    """
    suppliers: dict[tuple[bool, str, int], tuple[list[ShortLine], list[ShortLine]]] = defaultdict(lambda: ([], []))
    for place, lines in enumerate((reconciliation.short_lines, reconciliation.late_lines)):
        for line in lines:
            item = line.item
            if place or line.order:
                key = (item.supplier_id is None, item.supplier, item.supplier_id or 0)
                suppliers[key][place].append(readable(line))
    return tuple(
        OrderList(None if nobody else number, name, tuple(lines), tuple(late))
        for (nobody, name, number), (lines, late) in sorted(suppliers.items())
    )
