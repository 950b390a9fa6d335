"""
What a run needs of every item in every stage, exactly, before anything is rounded. Pure: no Django.

Nothing that a sheet leaves out becomes a silent zero: the takeoff warns of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from takeoff.rules.engine.book import Book
from takeoff.rules.engine.elements import Elements
from takeoff.runs.geometry.facts import RunFacts


class Line(NamedTuple):
    """
    An item that a run needs in a stage.

    exact : units of the item before rounding. by_site : rounded up once for the site, else for each run and stage.
    fitted : the part that it comes fitted on, empty when loose: fitted ones are shown, neither needed nor short.
    """

    item: str
    stage: str
    exact: Fraction
    by_site: bool = False
    fitted: str = ""


@dataclass(frozen=True, slots=True)
class RunTakeoff:
    """The lines of one run, those of its rules first, and what a planner should look at."""

    run: str
    lines: tuple[Line, ...]
    warnings: tuple[str, ...] = ()


def take_off(run: RunFacts, book: Book) -> RunTakeoff:
    """
    Return what a run needs by a book, every quantity an exact fraction.

    Rules count on the drawn sections; what counts on the run itself takes the measured centre line when there is one.
    The drawn takeoff is `take_off(run.as_drawn(), book)`. Raises SizeError for a cable whose size cannot be read.
    """
    counting = book.counting(run)
    values, warnings = counting.count(Elements(run))
    lines: list[Line] = []
    for target in counting.targets:
        total: int | Fraction = 0
        for place, numerator in target.parts:
            total += values[place] * numerator
        if total:
            # Most are whole counts: a fraction over 1 needs no reducing, which is what takes the time.
            exact = Fraction(total) if target.denominator == 1 else Fraction(total, target.denominator)
            lines.append(Line(target.item, target.stage, exact, target.by_site, target.fitted))
    return RunTakeoff(run.name, tuple(_with_drawn(run, book, lines)), tuple(dict.fromkeys(warnings)))


def drawn_items(run: RunFacts) -> Iterator[tuple[str, str]]:
    """Yield item and stage of every section and cover that the drawing makes an item of its own."""
    for section in run.sections:
        if section.item:
            yield section.item, "enclosure"
        if section.cover_item and section.cover:
            yield section.cover_item, "covers"


def _with_drawn(run: RunFacts, book: Book, lines: list[Line]) -> list[Line]:
    """Return the lines with one of its item for every section and cover that is an item of its own."""
    drawn: dict[tuple[str, str], int] = {}
    for key in drawn_items(run):
        drawn[key] = drawn.get(key, 0) + 1
    if not drawn:
        return lines
    added = [line._replace(exact=line.exact + drawn.pop((line.item, line.stage), 0)) for line in lines]
    for (item, stage), count in drawn.items():
        fitted = book.items[item].fitted if item in book.items else ""
        added.append(Line(item, stage, Fraction(count), book.rounds_by_site(item), fitted))
    return added
