"""What to order from whom: the short lines of a reconciliation and its cables, one list for each supplier."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from kits.shortages.reckon.lines import CableLine, CableWare, Reconciliation, ShortItem, ShortLine
from kits.shortages.told.rounded import rounded_line


@dataclass(frozen=True, slots=True)
class OrderList:
    """
    All that one supplier is to send; `supplier` is empty where items and cables name none.

    lines : what is to be ordered. late : what is on the way and is to come sooner. cables : of which reels are ordered.
    """

    supplier_id: int | None
    supplier: str
    lines: tuple[ShortLine, ...]
    late: tuple[ShortLine, ...] = ()
    cables: tuple[CableLine, ...] = ()


def order_lists(reconciliation: Reconciliation) -> tuple[OrderList, ...]:
    """
    Return one list for each supplier with something to order or expedite, by name; without a supplier comes last.

    The figures are those that people read.
    """
    suppliers: dict[tuple[bool, str, int], OrderParts] = defaultdict(OrderParts)
    for line in reconciliation.short_lines:
        if line.order:
            suppliers[_key(line.item)].lines.append(rounded_line(line))
    for line in reconciliation.late_lines:
        suppliers[_key(line.item)].late.append(rounded_line(line))
    for cable in reconciliation.cables_to_buy:
        if cable.order and cable.ware:
            suppliers[_key(cable.ware)].cables.append(cable)
    return tuple(
        OrderList(None if nobody else number, name, tuple(parts.lines), tuple(parts.late), tuple(parts.cables))
        for (nobody, name, number), parts in sorted(suppliers.items(), key=lambda entry: entry[0])
    )


@dataclass(slots=True)
class OrderParts:
    """What is gathered for one supplier."""

    lines: list[ShortLine] = field(default_factory=list)
    late: list[ShortLine] = field(default_factory=list)
    cables: list[CableLine] = field(default_factory=list)


def _key(ware: ShortItem | CableWare) -> tuple[bool, str, int]:
    return ware.supplier_id is None, ware.supplier, ware.supplier_id or 0
