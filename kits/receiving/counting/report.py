"""
Over, short and damaged: what counts say against a packing list, and what a list says against an order.

Pure; quantities in whole ticks of the item's unit. Over or short = counted − packing list; back-order = ordered −
packing list; open = ordered − counted (common practice of the three-way match).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum


class LineState(Enum):
    """How far a line of a packing list has been counted. What is not counted is not zero: nothing is guessed."""

    NOT_COUNTED = "not counted"
    NOT_OPENED = "as listed, not opened"
    PART = "part counted"
    COUNTED = "counted"


class Sort(Enum):
    """What became of what was counted."""

    GOOD = "good"
    NOT_OPENED = "not opened"
    DAMAGED = "damaged"
    REFUSED = "refused"
    WRONG = "wrong item"


@dataclass(frozen=True, slots=True)
class Count:
    """
    One count of a line.

    covers : of the listed item. came : another item that came instead and does not stand in for it, with how many.
    partial : more was to be counted.
    """

    sort: Sort
    covers: int
    partial: bool = False
    came: str = ""
    came_quantity: int = 0


@dataclass(frozen=True, slots=True)
class LineReport:
    """
    A line of a packing list held against its counts.

    counted : good, damaged and refused together. short : what a closed line lacks. over : what any line has too much.
    wrong : what came instead, by item. to_count : what an open line still lacks.
    """

    listed: int
    good: int
    damaged: int
    refused: int
    wrong: tuple[tuple[str, int], ...]
    state: LineState

    @property
    def counted(self) -> int:
        """All that came of the listed item, whatever its condition."""
        return self.good + self.damaged + self.refused

    @property
    def closed(self) -> bool:
        """Whether nothing more is to be counted."""
        return self.state in (LineState.COUNTED, LineState.NOT_OPENED)

    @property
    def short(self) -> int:
        """What is missing of a closed line."""
        return max(0, self.listed - self.counted) if self.closed else 0

    @property
    def over(self) -> int:
        """What came beyond the packing list."""
        return max(0, self.counted - self.listed)

    @property
    def to_count(self) -> int:
        """What an open line still lacks."""
        return 0 if self.closed else max(0, self.listed - self.counted)

    @property
    def has_exception(self) -> bool:
        """Whether something belongs on the delivery receipt before it is signed."""
        return bool(self.short or self.over or self.damaged or self.refused or self.wrong)


def line_report(listed: int, counts: Sequence[Count]) -> LineReport:
    """Hold a line of a packing list against its counts."""
    totals = dict.fromkeys(Sort, 0)
    wrong: dict[str, int] = {}
    for count in counts:
        totals[count.sort] += count.covers
        if count.came:
            wrong[count.came] = wrong.get(count.came, 0) + count.came_quantity
    return LineReport(
        listed=listed,
        good=totals[Sort.GOOD] + totals[Sort.NOT_OPENED],
        damaged=totals[Sort.DAMAGED],
        refused=totals[Sort.REFUSED],
        wrong=tuple(sorted(wrong.items())),
        state=_state(counts),
    )


def combined(reports: Sequence[LineReport]) -> LineReport:
    """Return lines of one item as one: what came is told together, and it is as open as its least counted line."""
    wrong: dict[str, int] = {}
    for item, quantity in (pair for report in reports for pair in report.wrong):
        wrong[item] = wrong.get(item, 0) + quantity
    states = {report.state for report in reports}
    return LineReport(
        listed=sum(report.listed for report in reports),
        good=sum(report.good for report in reports),
        damaged=sum(report.damaged for report in reports),
        refused=sum(report.refused for report in reports),
        wrong=tuple(sorted(wrong.items())),
        state=states.pop() if len(states) == 1 else _least(states),
    )


def _least(states: set[LineState]) -> LineState:
    """Return the state of lines that differ."""
    if states <= {LineState.COUNTED, LineState.NOT_OPENED}:
        return LineState.NOT_OPENED
    return LineState.PART


def _state(counts: Sequence[Count]) -> LineState:
    if not counts:
        return LineState.NOT_COUNTED
    if all(count.partial for count in counts):
        return LineState.PART
    if all(count.sort is Sort.NOT_OPENED for count in counts):
        return LineState.NOT_OPENED
    return LineState.COUNTED


@dataclass(frozen=True, slots=True)
class Match:
    """An item of an order in a three-way match: ordered, listed by packing lists, counted."""

    ordered: int
    listed: int
    counted: int

    @property
    def over_or_short(self) -> int:
        """Counted less listed: below zero short, above zero over."""
        return self.counted - self.listed

    @property
    def back_order(self) -> int:
        """Ordered less listed: what the supplier has yet to send."""
        return self.ordered - self.listed

    @property
    def open(self) -> int:
        """Ordered less counted: what has yet to come, or was paid for and did not."""
        return self.ordered - self.counted


def match_of(ordered: int, lines: Iterable[LineReport]) -> Match:
    """Match an ordered quantity with the lines of packing lists that answer the order."""
    reports = list(lines)
    return Match(ordered, sum(report.listed for report in reports), sum(report.counted for report in reports))
