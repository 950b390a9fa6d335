"""
Which truck what is not as listed belongs to, where several brought one shipment.

Pure; quantities in whole ticks of the item's unit. Whatever was counted came with the latest truck that was there by
then; what is missing is missing since the last one (common practice: nobody can claim what may still come).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from kits.receiving.counting.report import Count, LineReport, Sort


@dataclass(frozen=True, slots=True)
class Found:
    """What of one line is not as listed, of one truck. wrong : what came instead, by item."""

    short: int = 0
    over: int = 0
    damaged: int = 0
    refused: int = 0
    wrong: tuple[tuple[str, int], ...] = ()

    @property
    def claimable(self) -> bool:
        """Whether goods that were promised did not come whole; what came beyond the list is no loss."""
        return bool(self.short or self.damaged or self.refused or self.wrong)


def how_many(found: Iterable[Found]) -> list[tuple[str, int]]:
    """Return how many lines are short, over, damaged, refused or wrong, those left out that none is."""
    rows = list(found)
    said = {
        "short": sum(bool(one.short) for one in rows),
        "over": sum(bool(one.over) for one in rows),
        "damaged": sum(bool(one.damaged) for one in rows),
        "refused": sum(bool(one.refused) for one in rows),
        "wrong": sum(bool(one.wrong) for one in rows),
    }
    return [(word, count) for word, count in said.items() if count]


def truck_at(came: Sequence[datetime], counted: datetime) -> int:
    """Return the number of the latest truck by a moment, of trucks in the order in which they came; else the first."""
    return max(0, bisect_right(came, counted) - 1)


def found_by_truck(
    report: LineReport, counts: Sequence[tuple[datetime, Count]], came: Sequence[datetime]
) -> dict[int, Found]:
    """
    Return what of a line is not as listed, by the number of the truck, those left out of which all is as listed.

    counts : of the line, each with its moment, in their order. came : when the trucks came, in their order; at least
    one.
    """
    by_truck: dict[int, list[Count]] = {}
    for at, count in counts:
        by_truck.setdefault(truck_at(came, at), []).append(count)
    last = len(came) - 1
    over_at = max(by_truck, default=last)
    found = {}
    for truck in sorted({*by_truck, last}):
        mine = by_truck.get(truck, [])
        wrong: dict[str, int] = {}
        for count in mine:
            if count.came:
                wrong[count.came] = wrong.get(count.came, 0) + count.came_quantity
        one = Found(
            short=report.short if truck == last else 0,
            over=report.over if truck == over_at else 0,
            damaged=sum(count.covers for count in mine if count.sort is Sort.DAMAGED),
            refused=sum(count.covers for count in mine if count.sort is Sort.REFUSED),
            wrong=tuple(sorted(wrong.items())),
        )
        if one != Found():
            found[truck] = one
    return found
