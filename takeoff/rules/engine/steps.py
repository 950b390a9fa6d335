"""
The working of a takeoff line, step by step, as a person can check it with a pencil. Pure: no Django.

Built only when shown. Every step carries its units and its source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from takeoff.rules.engine.book import Book
from takeoff.rules.engine.elements import Elements, Group, cables_area, posts, unmeasured
from takeoff.rules.engine.quantities import drawn_items
from takeoff.rules.engine.rule import CompiledRule, RunKind, Tally
from takeoff.runs.geometry.circle import circle_area
from takeoff.runs.geometry.facts import RunFacts
from takeoff.units.exact import SCALE, from_ticks
from takeoff.units.lengths import INCH
from takeoff.units.shown import near, number

DRAWING = "drawing package"

# Working and result of a step, before it is told whose it is.
_Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class WorkingStep:
    """One step: the rule it belongs to ("" for the drawing and the sum), working and result with units, the source."""

    rule: str
    working: str
    result: str
    source: str


def steps(run: RunFacts, book: Book, item: str, stage: str, *, unit: str = "ft") -> list[WorkingStep]:
    """
    Return the working of one line: each rule that adds to it, what the drawing adds, and the sum rounded.

    unit : the site's, ft or m. What a site's shares and the drawing package's own quantities change comes after it.
    """
    elements = Elements(run)
    found: list[WorkingStep] = []
    total = Fraction(0)
    kind = RunKind.of(run)
    for rule in book.rules:
        if rule.item.code != item or rule.stage != stage or not rule.fits(kind):
            continue
        groups = [
            group for group in elements.of(rule.tally.counted_on) if group.count and rule.tally.takes(group.traits)
        ]
        gaps = [(gap, "not counted") for group in groups if (gap := unmeasured(group, rule.measure))]
        value = sum((_value(rule.tally, group) for group in groups), Fraction(0))
        pairs = [*_counting(run, rule, groups, unit), *_making(rule, value, unit)] if value else []
        total += rule.factor * value
        found += [WorkingStep(rule.row.name, working, result, rule.row.source) for working, result in [*gaps, *pairs]]
    drawn = sum(key == (item, stage) for key in drawn_items(run))
    if drawn:
        found.append(WorkingStep("", f"on the drawing{_marks(run, item)}", f"{drawn} {_unit(book, item)}", DRAWING))
        total += drawn
    return [*found, _sum(book, item, total)] if found else []


def _value(tally: Tally, group: Group) -> Fraction:
    """Return what a tally counts in one group: a number, posts, a path in ticks, or a volume in mm³."""
    if tally.measure == "spaced":
        return Fraction(sum(many * posts(length, tally.spacing, tally.end_offset) for length, many in group.lengths))
    if tally.measure == "bead":
        return Fraction(sum(many * length for length, many in group.lengths))
    if tally.measure == "fill":
        return max(group.volume or Fraction(0), Fraction(0))
    return Fraction(group.count)


def _counting(run: RunFacts, rule: CompiledRule, groups: list[Group], unit: str) -> Iterator[_Pair]:
    """Yield what a rule counts, one length or group after the other."""
    measure = rule.tally.measure
    for group in groups:
        if measure == "spaced":
            for length, many in group.lengths:
                yield _posts(rule, f"{many} × {group.where}", length, many, unit)
        elif measure == "bead":
            for length, many in group.lengths:
                yield f"{many} × {group.where}, {near(length, unit)} each", f"{near(many * length, unit)} of bead"
        elif measure == "fill":
            if group.volume is not None and group.volume >= 0:
                yield _opening(run, group, unit)
        else:
            yield group.where, f"{group.count}"


def _posts(rule: CompiledRule, things: str, length: int | Fraction, many: int, unit: str) -> _Pair:
    """Return how many posts stand along things of one length."""
    spacing, end_offset = rule.tally.spacing, rule.tally.end_offset
    each = posts(length, spacing, end_offset)
    long = near(length, unit)
    if length <= 2 * end_offset:
        working = f"{things} of {long}: no longer than both end offsets of {near(end_offset, unit)}, so 1 each"
    else:
        between = f"({long} − 2 × {near(end_offset, unit)})" if end_offset else long
        working = f"{things} of {long}: {between} ÷ {near(spacing, unit)}, up, + 1 = {each} each"
    return working, _count(many * each, "post")


def _opening(run: RunFacts, group: Group, unit: str) -> _Pair:
    """Return the volume to fill in a crossing."""
    assert group.volume is not None
    crossing = run.crossings[group.number - 1]
    assert crossing.width is not None
    assert crossing.height is not None
    assert crossing.depth is not None
    cables = cables_area(run)
    assert cables is not None
    opening = f"{near(crossing.width, unit)} × {near(crossing.height, unit)}"
    working = f"{group.where}: ({opening} − {_area(cables, unit)} of cables) × {near(crossing.depth, unit)} deep"
    return working, _volume(group.volume, unit)


def _making(rule: CompiledRule, value: Fraction, unit: str) -> Iterator[_Pair]:
    """Yield what a rule makes of what it counted, its allowance last."""
    row, item = rule.row, rule.item
    amount = Fraction(row.amount, SCALE)
    allowance = 1 + Fraction(row.allowance, SCALE)
    plain = rule.factor * value / allowance
    by_amount = "" if amount == 1 else f" × {_number(amount)}"
    if rule.measure == "spaced":
        sides = "" if row.sides in (None, 1) else f" × {row.sides} sides"
        yield f"{_count(int(value), 'post')}{sides}{by_amount}", _quantity(plain, item.unit)
    elif rule.measure == "cut pieces":
        assert item.stock_length is not None
        assert row.piece is not None
        pieces, stick = near(row.piece, unit), near(item.stock_length, unit)
        from_one = item.stock_length // row.piece
        yield f"{_number(value)}{by_amount} pieces of {pieces}", f"{_number(value * amount)} pieces"
        yield f"{stick} stick ÷ {pieces}, down", f"{from_one} pieces a stick"
        yield f"{_number(value * amount)} ÷ {from_one}", _quantity(plain, item.unit)
    elif rule.measure == "bead":
        assert item.contents is not None
        assert row.bead is not None
        volume = circle_area(Fraction(row.bead, SCALE)) * value / SCALE * amount
        bead = near(row.bead, unit)
        yield f"π/4 × {bead} × {bead} × {near(value, unit)}{by_amount}", _volume(volume, unit)
        yield f"{_volume(volume, unit)} ÷ {_volume(item.contents, unit)} of contents", _quantity(plain, item.unit)
    elif rule.measure == "fill":
        assert item.contents is not None
        working = f"{_volume(value, unit)}{by_amount} ÷ {_volume(item.contents, unit)} of contents"
        yield working, _quantity(plain, item.unit)
    elif rule.measure == "length":
        each, whole = near(row.amount, unit), near(value * row.amount, unit)
        roll = f" ÷ {near(item.stock_length, unit)} a roll" if item.stock_length else ""
        yield f"{_number(value)} × {each} = {whole}{roll}", _quantity(plain, item.unit)
    else:
        yield f"{_number(value)}{by_amount or ' × 1'}", _quantity(plain, item.unit)
    if row.allowance:
        percent = from_ticks(row.allowance * 100)
        yield f"{_number(plain)} + {percent} % allowance", _quantity(plain * allowance, item.unit)


def _sum(book: Book, item: str, total: Fraction) -> WorkingStep:
    """Return the last step: what all rules give, rounded up or left for the site's pool."""
    unit = _unit(book, item)
    if book.rounds_by_site(item):
        working = "added; all runs and stages of the site are added before it is rounded up once, then shared"
        return WorkingStep("", working, _quantity(total, unit), "rounding by site")
    return WorkingStep("", f"{_number(total)}, up", f"{ceil(total)} {unit}", "rounding by run")


def _unit(book: Book, item: str) -> str:
    return book.items[item].unit if item in book.items else "each"


def _marks(run: RunFacts, item: str) -> str:
    """Return the marks of the sections and covers that are this item, for finding them on the drawing."""
    marks = [section.mark for section in run.sections if section.mark and item in (section.item, section.cover_item)]
    return f", marks {', '.join(marks)}" if marks else ""


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _quantity(value: Fraction, unit: str) -> str:
    return f"{_number(value)} {unit}"


def _number(value: Fraction) -> str:
    """Return a number exactly where four places can, else about."""
    ticks = value * SCALE
    if ticks.denominator == 1:
        return number(int(ticks))
    return f"≈ {number(round(ticks))}"


def _volume(mm3: Fraction, unit: str) -> str:
    """Return a volume, cubic inches or millilitres to two places."""
    inches = Fraction(INCH, SCALE)
    return f"{_places(mm3 / inches**3)} in³" if unit == "ft" else f"{_places(mm3 / 1000)} mL"


def _area(ticks2: Fraction, unit: str) -> str:
    """Return an area of square ticks, square inches or square millimetres to two places."""
    return f"{_places(ticks2 / INCH**2)} in²" if unit == "ft" else f"{_places(ticks2 / SCALE**2)} mm²"


def _places(value: Fraction) -> str:
    return number(round(value * 100) * (SCALE // 100))
