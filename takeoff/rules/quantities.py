"""
What a run needs of every item in every stage, exactly, before anything is rounded. Pure: no Django.

Nothing that a sheet leaves out becomes a silent zero: the takeoff warns of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from takeoff.rules.book import Book
from takeoff.rules.elements import Elements, Group, posts
from takeoff.rules.families import unmatched
from takeoff.rules.rule import RunKind, Tally
from takeoff.runs.facts import RunFacts


@dataclass(frozen=True, slots=True)
class Line:
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
    """The lines of one run in the order of its book, and what a planner should look at."""

    run: str
    lines: tuple[Line, ...]
    warnings: tuple[str, ...] = ()


def take_off(run: RunFacts, book: Book) -> RunTakeoff:
    """
    Return what a run needs by a book, every quantity an exact fraction.

    Rules count on the drawn sections; what counts on the run itself takes the measured centre line when there is one.
    The drawn takeoff is `take_off(run.as_drawn(), book)`. Raises SizeError for a cable whose size cannot be read.
    """
    elements = Elements(run)
    kind = RunKind.of(run)
    totals: dict[tuple[str, str], Fraction] = {}
    warnings: list[str] = []
    for tally, rules in book.for_kind(kind).items():
        groups = elements.matching(tally)
        if not groups:
            continue
        value, missing = counted(groups, tally)
        warnings += [f"{rule.item.code}: {gap}" for gap in missing for rule in rules]
        if not value:
            continue
        for rule in rules:
            key = rule.item.code, rule.stage
            quantity = rule.factor * value
            totals[key] = totals[key] + quantity if key in totals else quantity
    for key in drawn_items(run):
        totals[key] = totals.get(key, Fraction(0)) + 1
    warnings += unmatched(run, kind, elements, book.families)
    lines = tuple(
        Line(item, stage, exact, book.rounds_by_site(item), facts.fitted if (facts := book.items.get(item)) else "")
        for (item, stage), exact in totals.items()
    )
    return RunTakeoff(run.name, lines, tuple(dict.fromkeys(warnings)))


def drawn_items(run: RunFacts) -> Iterable[tuple[str, str]]:
    """Yield item and stage of every section and cover that the drawing makes an item of its own."""
    for section in run.sections:
        if section.item:
            yield section.item, "enclosure"
        if section.cover and section.cover_item:
            yield section.cover_item, "covers"


def counted(groups: Iterable[Group], tally: Tally) -> tuple[int | Fraction, list[str]]:
    """
    Return what a tally counts over groups, and what the sheets leave out.

    A number, posts, a path in ticks, or a volume in mm³, by the tally's measure.
    """
    value: int | Fraction = 0
    missing: list[str] = []
    measure = tally.measure
    if measure == "spaced":
        spacing, end_offset = tally.spacing, tally.end_offset
        for group in groups:
            if group.length is None:
                missing.append(_no_length(group))
            else:
                value += group.count * posts(group.length, spacing, end_offset)
    elif measure == "bead":
        for group in groups:
            if group.length is None:
                missing.append(_no_length(group))
            else:
                value += group.count * group.length
    elif measure == "fill":
        for group in groups:
            if group.volume is None:
                missing.append(
                    f"the {group.where} lacks width, height, depth or a cable diameter; nothing is counted there"
                )
            elif group.volume < 0:
                missing.append(f"the cables do not fit the opening of the {group.where}; nothing is counted there")
            else:
                value += group.count * group.volume
    else:
        for group in groups:
            value += group.count
    return value, missing


def _no_length(group: Group) -> str:
    if group.where.startswith("cable hole"):
        return f"the {group.where} lacks the cable's diameter; nothing is counted there"
    return f"the {group.where} lacks its width or height; nothing is counted there"
