"""
A shortage drawn: the balance over time as steps, and its causes as bars that add up. Pure: no Django.

Positions and widths are percentages of the drawing, so that it fits any screen while its words keep their size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from kits.shortages.reckon.lines import BalanceStep, ShortLine, Walk

LEFT, RIGHT = 13.0, 98.0  # per cent; the scale's words stand left of it
TOP, BOTTOM = 10.0, 82.0
PATTERNS = 6


@dataclass(frozen=True, slots=True)
class DrawnStep:
    """A stretch of days with one balance [ticks]: from x1 to x2 at height y, joined to the last one at y0. [%]"""

    x1: float
    x2: float
    width: float
    y0: float
    y: float
    height: float
    day: date
    balance: int

    @property
    def top(self) -> float:
        """The upper edge of the area between the balance and nothing. [%]"""
        return self.y if self.balance >= 0 else round(self.y - self.height, 2)

    @property
    def is_below(self) -> bool:
        """Whether something is missing."""
        return self.balance < 0


@dataclass(frozen=True, slots=True)
class DayMark:
    """A day that is named below the steps. [%]"""

    x: float
    day: date
    what: str


@dataclass(frozen=True, slots=True)
class Steps:
    """The balance over time. zero : where nothing is left [%]. top, low : the largest and the least balance. [ticks]"""

    levels: tuple[DrawnStep, ...]
    zero: float
    top: int
    low: int
    top_y: float
    low_y: float
    marks: tuple[DayMark, ...]


@dataclass(frozen=True, slots=True)
class Segment:
    """A part of a bar: what it stands for, how much [ticks], and where. [%] pattern : 0 to 5."""

    name: str
    ticks: int
    x: float
    width: float
    pattern: int

    @property
    def end(self) -> float:
        """Where it ends. [%]"""
        return round(self.x + self.width, 3)


@dataclass(frozen=True, slots=True)
class Bars:
    """
    What a shortage is made of: all that adds to it, all that takes from it, and what is left, to one scale.

    added less taken is what is short. spare : what is left over in the end when only the dates make the item short;
    the causes then add up to less than nothing, and are not drawn. [ticks]
    """

    adds: tuple[Segment, ...]
    takes: tuple[Segment, ...]
    left: Segment | None
    added: int
    taken: int
    rest: int
    spare: int = 0


def draw_steps(line: ShortLine | Walk, as_of: date) -> Steps | None:
    """Return the balance of an item, or of runs that it is made for, from `as_of` on; None when nothing changes it."""
    steps = [step for step in line.steps if step.day >= as_of]
    if not steps:
        return None
    last = max(step.day for step in steps)
    end = last + max(timedelta(days=7), (last - as_of) / 8)
    days = (end - as_of).days or 1
    start = line.usable
    high = max([start, 0, *(step.balance for step in steps)])
    low = min([start, 0, *(step.balance for step in steps)])
    span = (high - low) or 1

    def x(day: date) -> float:
        return round(LEFT + (day - as_of).days * (RIGHT - LEFT) / days, 2)

    def y(ticks: int) -> float:
        return round(TOP + (high - ticks) * (BOTTOM - TOP) / span, 2)

    levels: list[DrawnStep] = []
    before, since = start, as_of
    previous = y(start)
    for step in [*steps, BalanceStep(end, 0, 0, 0, steps[-1].balance)]:
        if step.day > since or not levels:
            height = abs(y(before) - y(0))
            levels.append(
                DrawnStep(
                    x(since),
                    x(step.day),
                    round(x(step.day) - x(since), 2),
                    previous,
                    y(before),
                    round(height, 2),
                    since,
                    before,
                )
            )
            previous = y(before)
        before, since = step.balance, step.day
    named = [DayMark(x(as_of), as_of, "today")]
    for day, what in ((line.order_by, "order by"), (line.short_on, "short on")):
        if day is not None and as_of < day <= end:
            named.append(DayMark(x(day), day, what))
    return Steps(tuple(levels), y(0), high, low, y(high), y(low), tuple(named))


def draw_bars(line: ShortLine) -> Bars | None:
    """Return what the shortage of `line` is made of, or None when nothing adds to it."""
    spare = max(0, -line.uncovered)
    parts = sorted(line.parts.items(), key=lambda part: -abs(part[1]))
    adding = [(name, ticks) for name, ticks in parts if ticks > 0]
    taking = [(name, -ticks) for name, ticks in parts if ticks < 0]
    added, taken = sum(ticks for _, ticks in adding), sum(ticks for _, ticks in taking)
    widest = max(added, taken)
    if widest <= 0:
        return None
    order = {name: number % PATTERNS for number, (name, _) in enumerate([*adding, *taking])}

    def row(segments: Sequence[tuple[str, int]]) -> tuple[Segment, ...]:
        found, at = [], 0
        for name, ticks in segments:
            found.append(Segment(name, ticks, round(100 * at / widest, 3), round(100 * ticks / widest, 3), order[name]))
            at += ticks
        return tuple(found)

    rest = added - taken
    left = (
        Segment("short", rest, round(100 * taken / widest, 3), round(100 * rest / widest, 3), 0) if rest > 0 else None
    )
    return Bars(row(adding), row(taking), left, added, taken, rest, spare)
