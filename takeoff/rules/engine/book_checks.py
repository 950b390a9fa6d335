"""
What a rule book is refused for at publishing, cell by cell. Pure: no Django.

Every problem of every row is gathered, so that a planner sees them all at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from takeoff.rules.engine import rows as word
from takeoff.rules.engine.rows import RuleItem, RuleRow, WordError, numbers, one_spaced, words
from takeoff.units.exact import from_ticks
from takeoff.units.lengths import MILLIMETRES, length_unit, show_length
from takeoff.units.sizes import EXPECTED as SIZE_EXPECTED
from takeoff.units.sizes import CableSize, SizeError, parse_size

# The columns that one measure uses and others leave empty.
COLUMNS_OF = {
    "each": (),
    "spaced": ("spacing", "end_offset", "sides"),
    "cut pieces": ("piece",),
    "bead": ("bead",),
    "fill": (),
    "length": (),
}
NEEDED = {"spaced": "spacing", "cut pieces": "piece", "bead": "bead"}
COUNTS_OF = {"spaced": word.LONG, "bead": word.LONG, "fill": ("crossing",)}
LARGEST_HOLES = 12


@dataclass(frozen=True, slots=True)
class RuleProblem:
    """
    A cell that a book cannot be published with, or, where `refused` is False, one to look at again.

    row : place in the book, counted from 0. rule : the row's name. field : the column.
    """

    row: int
    rule: str
    field: str
    found: str
    expected: str
    refused: bool = True

    def __str__(self) -> str:
        return (
            f"rule {self.rule or self.row + 1}, {self.field}: found {self.found or 'nothing'}, expected {self.expected}"
        )


def check_book(rows: Sequence[RuleRow], items: Mapping[str, RuleItem], *, unit: str = "ft") -> list[RuleProblem]:
    """
    Return all that is wrong with a book, in the order of its rows; an empty list means that it can be published.

    items : the site's items by code. unit : the site's, ft or m, for the lengths in the messages.
    """
    problems: list[RuleProblem] = []
    names: dict[str, int] = {}
    rounding: dict[str, tuple[str, str]] = {}
    for number, row in enumerate(rows):
        for field, found, expected in _row(row, items.get(row.item), unit):
            problems.append(RuleProblem(number, row.name, field, found, expected))
        if row.name in names:
            expected = f"a name of its own: row {names[row.name] + 1} has it too"
            problems.append(RuleProblem(number, row.name, "rule", row.name, expected))
        names.setdefault(row.name, number)
        how, first = rounding.setdefault(row.item, (one_spaced(row.rounding), row.name))
        if how != one_spaced(row.rounding):
            expected = f"{how}, as in rule {first}: an item is rounded in one way"
            problems.append(RuleProblem(number, row.name, "rounding", row.rounding, expected))
    problems += _overlaps(rows)
    return sorted(problems, key=lambda problem: problem.row)


Cell = tuple[str, str, str]


def _row(row: RuleRow, item: RuleItem | None, unit: str) -> Iterator[Cell]:
    """Yield field, what was found and what was expected for every bad cell of a row."""
    if not row.name.strip():
        yield "rule", "", "a name"
    if item is None:
        yield "item", row.item, "the code of an item on the sheet of items"
    if not row.source.strip():
        yield "source", "", "a code section, a published table, the drawing package or: common practice"
    for field, known in (
        ("stage", word.STAGES),
        ("counted_on", word.COUNTED_ON),
        ("measure", word.MEASURES),
        ("rounding", word.ROUNDINGS),
    ):
        found = getattr(row, field)
        if one_spaced(found) not in known:
            yield field, found, f"one of: {', '.join(known)}"
    if row.amount <= 0:
        yield "amount", str(from_ticks(row.amount)), "a number above 0"
    if row.allowance < 0:
        yield "allowance", str(from_ticks(row.allowance)), "a percentage of 0 or more"
    yield from _measure(row, item, unit)
    yield from _conditions(row)
    yield from _sizes(row)


def _measure(row: RuleRow, item: RuleItem | None, unit: str) -> Iterator[Cell]:
    """Yield what the row's measure lacks, or cannot use."""
    measure, counted_on = one_spaced(row.measure), one_spaced(row.counted_on)
    if measure not in word.MEASURES:
        return
    needed = NEEDED.get(measure)
    if needed and getattr(row, needed) is None:
        yield needed, "", f"a length: the measure {measure} needs it"
    for field in ("spacing", "piece", "bead"):
        value = getattr(row, field)
        if value is not None and value <= 0:
            yield field, show_length(value, unit), "a length above 0"
    if row.end_offset is not None and row.end_offset < 0:
        yield "end_offset", show_length(row.end_offset, unit), "a length of 0 or more"
    if row.sides is not None and row.sides < 1:
        yield "sides", str(row.sides), "1 or more"
    for field in ("spacing", "end_offset", "piece", "bead"):
        if field not in COLUMNS_OF[measure] and getattr(row, field):
            yield field, show_length(getattr(row, field), unit), f"nothing: the measure {measure} does not use it"
    if "sides" not in COLUMNS_OF[measure] and row.sides not in (None, 1):
        yield "sides", str(row.sides), f"nothing: the measure {measure} does not use it"
    counts = COUNTS_OF.get(measure)
    if counts and counted_on in word.COUNTED_ON and counted_on not in counts:
        yield "counted_on", row.counted_on, f"for the measure {measure} one of: {', '.join(counts)}"
    if item is not None:
        yield from _item(row, measure, item, unit)


def _item(row: RuleRow, measure: str, item: RuleItem, unit: str) -> Iterator[Cell]:
    """Yield what the row's item lacks for its measure."""
    if measure == "cut pieces":
        if not item.stock_length:
            yield "item", item.code, "an item with a stock_length to cut pieces from"
        elif row.piece and row.piece > item.stock_length:
            longest = show_length(item.stock_length, unit)
            yield "piece", show_length(row.piece, unit), f"a piece no longer than the stick of {item.code}, {longest}"
    if measure in {"bead", "fill"} and not item.contents:
        yield "item", item.code, f"an item with contents (a volume): the measure {measure} divides by it"
    if measure == "length" and not item.stock_length and length_unit(item.unit) is None:
        units = ", ".join(MILLIMETRES)
        yield "item", item.code, f"an item whose unit is a length ({units}) or that has a stock_length"


def _conditions(row: RuleRow) -> Iterator[Cell]:
    """Yield words that a condition does not know, and conditions on the wrong kind of count."""
    for field, known in (
        ("voltage_class", word.VOLTAGE_CLASSES),
        ("location", word.LOCATIONS),
        ("section_kind", word.SECTION_KINDS),
        ("lie", word.LIES),
        ("seal", word.SEALS),
        ("crossing_kind", word.CROSSING_KINDS),
    ):
        try:
            words(getattr(row, field), known)
        except WordError as error:
            yield field, error.found, f"empty for any, or of: {', '.join(known)}"
    for field, among, expected in (
        ("tiers", word.TIERS, "empty for any, or numbers from 1 to 4 such as 2 or 3-4"),
        ("lug_holes", range(1, LARGEST_HOLES + 1), f"empty for any, or numbers from 1 to {LARGEST_HOLES}"),
    ):
        try:
            numbers(getattr(row, field), among)
        except WordError as error:
            yield field, error.found, expected
    counted_on = one_spaced(row.counted_on)
    if counted_on not in word.COUNTED_ON:
        return
    for field, counts in word.CONDITION_ON.items():
        value = getattr(row, field)
        if value not in ("", None) and counted_on not in counts:
            shown = "yes" if value is True else "no" if value is False else value
            yield field, shown, f"nothing on {counted_on}: {field} can choose among {', '.join(counts)}"
    yield from _never(row, counted_on)


def _never(row: RuleRow, counted_on: str) -> Iterator[Cell]:
    """Yield a section kind that the count can never be."""
    try:
        kinds = words(row.section_kind, word.SECTION_KINDS)
    except WordError:
        return
    straight = frozenset({"straight"})
    if kinds and counted_on == "straight" and "straight" not in kinds:
        yield "section_kind", row.section_kind, "nothing: a straight is never one of these"
    if kinds == straight and counted_on == "fitting":
        yield "section_kind", row.section_kind, "a kind of fitting: a fitting is never straight"


def _sizes(row: RuleRow) -> Iterator[Cell]:
    """Yield sizes that cannot be read, and a band whose limits are the wrong way round."""
    for what in ("ground", "cable"):
        limits: dict[str, CableSize] = {}
        for end in ("min", "max"):
            text = getattr(row, f"{what}_{end}")
            if not text.strip():
                continue
            try:
                limits[end] = parse_size(text)
            except SizeError:
                yield f"{what}_{end}", text, SIZE_EXPECTED
        if len(limits) == 2 and limits["min"] > limits["max"]:
            yield f"{what}_max", limits["max"].name, f"a size of at least {limits['min'].name}, the row's {what}_min"


Band = tuple[Fraction | None, Fraction | None]


def _overlaps(rows: Sequence[RuleRow]) -> Iterator[RuleProblem]:
    """Yield bands of one family that overlap without being the same: a size in both would count twice."""
    seen: dict[tuple[str, ...], list[tuple[RuleRow, Band]]] = {}
    for number, row in enumerate(rows):
        if not row.family.strip():
            continue
        for what in ("ground", "cable"):
            band = _band(row, what)
            if band is None:
                continue
            alike = seen.setdefault((what, *_choice(row)), [])
            for other, theirs in alike:
                if band != theirs and _overlap(band, theirs):
                    expected = (
                        f"a band beside that of rule {other.name} ({_shown(other, what)}), or a family of its own"
                    )
                    yield RuleProblem(number, row.name, f"{what}_min", _shown(row, what), expected, refused=False)
            alike.append((row, band))


def _choice(row: RuleRow) -> tuple[str, ...]:
    """Return what else decides whether a row applies: only rows alike in all of it can count twice."""
    return (
        one_spaced(row.family),
        one_spaced(row.counted_on),
        row.stage,
        row.tiers,
        row.voltage_class,
        row.location,
        row.section_kind,
        row.lie,
        row.seal,
        row.lug_holes,
        str(row.fire_rated),
        row.crossing_kind,
    )


def _band(row: RuleRow, what: str) -> Band | None:
    """Return the row's band as cross-sections, None for none or one that cannot be read."""
    try:
        low, high = (
            parse_size(text).area_mm2 if (text := getattr(row, f"{what}_{end}")).strip() else None
            for end in ("min", "max")
        )
    except SizeError:
        return None
    return None if low is None and high is None else (low, high)


def _overlap(one: Band, other: Band) -> bool:
    """Return whether two bands share more than a limit."""
    lows = [low for low, _ in (one, other) if low is not None]
    highs = [high for _, high in (one, other) if high is not None]
    if not lows or not highs:
        return True
    return max(lows) < min(highs)


def _shown(row: RuleRow, what: str) -> str:
    """Return a band in words."""
    low, high = getattr(row, f"{what}_min"), getattr(row, f"{what}_max")
    if low and high:
        return f"{low} to {high}"
    return f"from {low}" if low else f"to {high}"
