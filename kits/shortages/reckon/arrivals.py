"""
Which delivery brings the last of what a stage has not got.

What comes is given out as what is here: to the work that is planned first. Quantities are ticks. Pure: no Django.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from kits.shortages.reckon.lines import CABLE_UNIT, Delivery, Missing, ShortLine, StageReadiness


@dataclass(frozen=True, slots=True)
class Lack:
    """What a stage has not got, and the delivery that brings the last of it; None where no delivery does."""

    missing: Missing
    comes: Delivery | None = None

    @property
    def is_cable(self) -> bool:
        """Whether it is a length of cable, which no delivery of items brings."""
        return self.missing.unit == CABLE_UNIT


@dataclass(frozen=True, slots=True)
class StageLine:
    """A stage with what it has not got."""

    row: StageReadiness
    lacks: tuple[Lack, ...] = ()


@dataclass(slots=True)
class _Coming:
    delivery: Delivery
    left: int


def stage_lines(readiness: Iterable[StageReadiness], lines: Iterable[ShortLine]) -> tuple[StageLine, ...]:
    """
    Return the stages in their order, each with the deliveries that bring what it has not got.

    Deliveries are given out by their day, overdue ones first and undated ones last, to stages by planned day (undated
    last), then run, then stage, as stock is.
    """
    coming = {line.item.code: [_Coming(one, one.quantity) for one in _by_day(line.deliveries)] for line in lines}
    rows = list(readiness)
    lacks: dict[int, tuple[Lack, ...]] = {}
    turns = sorted(enumerate(rows), key=lambda at: (at[1].planned is None, at[1].planned or date.max, at[1].run, at[0]))
    for place, row in turns:
        lacks[place] = tuple(
            Lack(one, None if one.unit == CABLE_UNIT else _last_of(coming.get(one.item, ()), one.quantity))
            for one in row.missing
        )
    return tuple(StageLine(row, lacks[place]) for place, row in enumerate(rows))


def _by_day(deliveries: Iterable[Delivery]) -> list[Delivery]:
    return sorted(deliveries, key=lambda one: (one.on is None, one.on or date.max))


def _last_of(coming: Iterable[_Coming], wanted: int) -> Delivery | None:
    """Take `wanted` out of what comes, and return the delivery that brings the last of it."""
    for one in coming:
        part = min(wanted, one.left)
        one.left -= part
        wanted -= part
        if part and not wanted:
            return one.delivery
    return None
