"""
A rule book made ready: words read, sizes turned into cross-sections, every measure into one exact factor.

Each measure gives a quantity that is linear in something a run has: a count, posts, a path, a volume. The book keeps
the factor, so that a run only has to be counted. Pure: no Django.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from takeoff.rules.engine import rows as word
from takeoff.rules.engine.book_checks import RuleProblem, check_book
from takeoff.rules.engine.families import Family, families_of
from takeoff.rules.engine.routes import Counting
from takeoff.rules.engine.rows import RuleItem, RuleRow, numbers, one_spaced, words
from takeoff.rules.engine.rule import CompiledRule, RunKind, SizeBand, Tally
from takeoff.runs.geometry.circle import PI
from takeoff.runs.geometry.facts import RunFacts
from takeoff.units.exact import SCALE
from takeoff.units.lengths import MILLIMETRES, length_unit
from takeoff.units.sizes import parse_size


class NotPublishableError(ValueError):
    """A book with problems that refuse it: `problems` holds them all."""

    def __init__(self, problems: Sequence[RuleProblem]) -> None:
        super().__init__("; ".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


@dataclass(frozen=True, slots=True)
class Book:
    """A published book, ready to take off runs with. `rounding` gives run or site by item."""

    rules: tuple[CompiledRule, ...]
    items: Mapping[str, RuleItem]
    rounding: Mapping[str, str]
    families: tuple[Family, ...]
    _countings: dict[tuple[object, ...], Counting] = field(default_factory=dict, compare=False, repr=False)

    def for_kind(self, kind: RunKind) -> dict[Tally, tuple[CompiledRule, ...]]:
        """Return the rules that apply to a kind of run, together where they count the same."""
        together: dict[Tally, list[CompiledRule]] = {}
        for rule in self.rules:
            if rule.fits(kind):
                together.setdefault(rule.tally, []).append(rule)
        return {tally: tuple(rules) for tally, rules in together.items()}

    def counting(self, run: RunFacts) -> Counting:
        """Return what the book counts on runs like this one. Raises SizeError for a size that cannot be read."""
        ground = run.ground_cable.size if run.ground_cable else ""
        key = (run.tiers, run.voltage_class, run.location, run.cable.size, ground, run.ground_cables > 0)
        found = self._countings.get(key)
        if found is None:
            kind = RunKind.of(run)
            found = self._countings[key] = Counting(kind, self.for_kind(kind), self.families)
        return found

    def rounds_by_site(self, item: str) -> bool:
        """Return whether an item is rounded up once for the site, not for each run and stage."""
        return self.rounding.get(item) == "site"


def compile_book(rows: Sequence[RuleRow], items: Mapping[str, RuleItem]) -> Book:
    """
    Return a book made ready.

    items : the site's items by code; sections and covers can be items that no rule names.
    Raises NotPublishableError when `check_book` refuses it.
    """
    refused = [problem for problem in check_book(rows, items) if problem.refused]
    if refused:
        raise NotPublishableError(refused)
    tops = _tops(rows)
    rules = tuple(_compile(row, items[row.item], tops) for row in rows)
    rounding = {rule.item.code: one_spaced(rule.row.rounding) for rule in rules}
    return Book(rules, items, rounding, families_of(rules))


Tops = dict[tuple[str, ...], set[Fraction]]


def _group(row: RuleRow, what: str) -> tuple[str, ...]:
    return (what, one_spaced(row.family), one_spaced(row.counted_on), one_spaced(row.stage))


def _tops(rows: Sequence[RuleRow]) -> Tops:
    """Return where the bands of each family end: a band that starts there starts above it."""
    tops: Tops = {}
    for row in rows:
        for what in ("ground", "cable"):
            if text := getattr(row, f"{what}_max").strip():
                tops.setdefault(_group(row, what), set()).add(parse_size(text).area_mm2)
    return tops


def _compile(row: RuleRow, item: RuleItem, tops: Tops) -> CompiledRule:
    """Return one row made ready; `check_book` has passed it."""
    measure, counted_on = one_spaced(row.measure), one_spaced(row.counted_on)
    spaced = measure == "spaced"
    tally = Tally(
        counted_on=counted_on,
        measure=measure if measure in {"spaced", "bead", "fill"} else "each",
        spacing=row.spacing or 0 if spaced else 0,
        end_offset=row.end_offset or 0 if spaced else 0,
        kinds=words(row.section_kind, word.SECTION_KINDS),
        lies=words(row.lie, word.LIES),
        seals=words(row.seal, word.SEALS),
        holes=numbers(row.lug_holes, range(1, 100)),
        fire_rated=row.fire_rated,
        crossing_kinds=words(row.crossing_kind, word.CROSSING_KINDS),
    )
    return CompiledRule(
        row=row,
        item=item,
        stage=one_spaced(row.stage),
        measure=measure,
        family=one_spaced(row.family),
        tally=tally,
        factor=_factor(row, measure, item) * (1 + Fraction(row.allowance, SCALE)),
        tiers=numbers(row.tiers, word.TIERS),
        voltage_classes=words(row.voltage_class, word.VOLTAGE_CLASSES),
        locations=words(row.location, word.LOCATIONS),
        ground=_band(row, "ground", tops),
        cable=_band(row, "cable", tops),
    )


def _band(row: RuleRow, what: str, tops: Tops) -> SizeBand | None:
    low, high = (
        parse_size(text).area_mm2 if (text := getattr(row, f"{what}_{end}").strip()) else None for end in ("min", "max")
    )
    if low is None and high is None:
        return None
    # A band of one size (min and max the same) keeps its size.
    touches = low is not None and low != high and low in tops.get(_group(row, what), ())
    return SizeBand(low, high, above_low=touches)


def _factor(row: RuleRow, measure: str, item: RuleItem) -> Fraction:
    """
    Return units of the item for one of what the measure counts, without the allowance.

    Counts are numbers, paths ticks, volumes mm³. Source: docs/formulas.md, "Measures".
    """
    amount = Fraction(row.amount, SCALE)
    if measure == "spaced":
        return amount * (row.sides or 1)
    if measure == "cut pieces":
        assert item.stock_length is not None
        assert row.piece is not None
        return amount / (item.stock_length // row.piece)
    if measure == "bead":
        assert item.contents is not None
        assert row.bead is not None
        return PI / 4 * Fraction(row.bead, SCALE) ** 2 / SCALE * amount / item.contents
    if measure == "fill":
        assert item.contents is not None
        return amount / item.contents
    if measure == "length":
        if item.stock_length:
            return Fraction(row.amount, item.stock_length)
        unit = length_unit(item.unit)
        assert unit is not None
        return amount / MILLIMETRES[unit]
    return amount
