"""Plain runs, items and rule rows for tests of the pure takeoff, and the default books read without a database."""

import csv
from fractions import Fraction
from pathlib import Path
from typing import Any

import takeoff.rules
from takeoff.rules.engine.book import Book, compile_book
from takeoff.rules.engine.quantities import RunTakeoff
from takeoff.rules.engine.rows import RuleItem, RuleRow
from takeoff.runs.geometry.facts import CableFacts, EndFacts, RunFacts, SectionFacts
from takeoff.units.exact import to_ticks
from takeoff.units.lengths import parse_length
from takeoff.units.measures import contents_mm3, parse_percent, parse_volume

FT = 3_048_000
IN = 254_000
MM = 10_000
ONE = 10_000
CUBE = Fraction("25.4") ** 3  # of an inch, in mm³

BOOKS = Path(takeoff.rules.__file__).parent / "books"
LENGTHS = ("spacing", "end_offset", "piece", "bead")

ITEM = RuleItem("part")
STICK = RuleItem("stick", stock_length=48 * IN)
CARTRIDGE = RuleItem("cartridge", contents=Fraction("10.1") * Fraction(231, 128) * CUBE)
ITEMS = {item.code: item for item in (ITEM, STICK, CARTRIDGE)}

CABLE = CableFacts("500-cu", "500", "Cu", diameter=254_762)  # 1.003 in
GROUND = CableFacts("250-cu", "250", "Cu", diameter=190_500)  # 0.75 in


def row(counted_on: str = "run", measure: str = "each", amount: int = ONE, **rest: Any) -> RuleRow:
    """A rule of one part, its name told apart by what it counts."""
    given: dict[str, Any] = {"name": f"{counted_on} {measure}", "item": "part", "stage": "enclosure", "source": "test"}
    return RuleRow(counted_on=counted_on, measure=measure, amount=amount, **(given | rest))


def straight(length: int = 10 * FT, seq: int = 1, **rest: Any) -> SectionFacts:
    """A straight section."""
    return SectionFacts(seq, "straight", length, **rest)


def elbow(turn: str = "", kind: str = "horizontal elbow", seq: int = 1, **rest: Any) -> SectionFacts:
    """An elbow of 3 ft along its centre line."""
    return SectionFacts(seq, kind, 3 * FT, turn=turn, **rest)


def run(*sections: SectionFacts, **rest: Any) -> RunFacts:
    """A run of two tiers, three phases of four cables, and one ground cable."""
    ends = (EndFacts("from", stick_out=5 * FT), EndFacts("to", stick_out=5 * FT))
    given: dict[str, Any] = {"cable": CABLE, "ground_cable": GROUND, "ends": ends}
    return RunFacts("R1", **({"tiers": 2, "phases": 3, "cables_per_phase": 4} | given | rest), sections=sections)


def book(*rows: RuleRow, items: dict[str, RuleItem] | None = None) -> Book:
    """A book made ready."""
    return compile_book(rows, ITEMS | (items or {}))


def exact(takeoff: RunTakeoff, item: str = "part", stage: str | None = None) -> Fraction:
    """What a takeoff needs of an item, over all stages or in one."""
    lines = (line for line in takeoff.lines if line.item == item and stage in (None, line.stage))
    return sum((line.exact for line in lines), Fraction(0))


def default_rows(name: str) -> list[RuleRow]:
    """The rows of a default book: feet or metric."""
    return [_rule(cells, units) for cells, units in _sheet(name, "rules")]


def default_items(name: str) -> dict[str, RuleItem]:
    """The items of a default book."""
    items = {}
    for cells, units in _sheet(name, "items"):
        volume = parse_volume(cells["contents"]) if cells["contents"] else None
        items[cells["item"]] = RuleItem(
            cells["item"],
            cells["unit"],
            _length(cells["stock_length"], units.get("stock_length")),
            contents_mm3(volume.value, volume.unit) if volume else None,
            cells["fitted"],
        )
    return items


def default_book(name: str) -> Book:
    """A default book made ready."""
    return compile_book(default_rows(name), default_items(name))


def _sheet(name: str, table: str) -> list[tuple[dict[str, str], dict[str, str]]]:
    """Each row's cells by column, and the units that the header names."""
    with (BOOKS / name / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        header, *lines = csv.reader(file)
    columns = [cell.split(" (")[0] for cell in header]
    units = {cell.split(" (")[0]: cell.split(" (")[1].rstrip(")") for cell in header if " (" in cell}
    return [(dict(zip(columns, line, strict=True)), units) for line in lines]


def _length(text: str, unit: str | None) -> int | None:
    return parse_length(text, bare=unit) if text else None


def _rule(cells: dict[str, str], units: dict[str, str]) -> RuleRow:
    given: dict[str, Any] = {name: value for name, value in cells.items() if name not in {"rule", "amount"} and value}
    for name in LENGTHS:
        given[name] = _length(cells[name], units[name])
    if given.get("sides"):
        given["sides"] = int(given["sides"])
    if given.get("allowance"):
        given["allowance"] = to_ticks(parse_percent(given["allowance"]))
    if given.get("fire_rated"):
        given["fire_rated"] = given["fire_rated"] == "yes"
    amount = parse_length(cells["amount"], bare=None) if cells["measure"] == "length" else to_ticks(cells["amount"])
    return RuleRow(name=cells["rule"], amount=amount, **given)
