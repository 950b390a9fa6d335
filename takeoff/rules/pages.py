"""Reads of the rules pages: a published book told in words, its versions, and the book as a sheet to change."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Count
from openpyxl import Workbook
from openpyxl.styles import Font

from takeoff.catalogue.models import Item
from takeoff.rules import queries
from takeoff.rules.engine.cells import cell
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.models import RuleBook
from takeoff.rules.sheets import RulesTable
from takeoff.sheets.files.export import text_cell
from takeoff.sites.models import Site, StageName
from takeoff.sites.scope import SiteQuerySet
from takeoff.units.exact import from_ticks
from takeoff.units.shown import exactly, number, percent

CONDITIONS = (
    ("tiers", "tiers"),
    ("voltage_class", "voltage"),
    ("location", "location"),
    ("section_kind", "sections"),
    ("lie", "lying"),
    ("seal", "seals"),
    ("lug_holes", "lug holes"),
    ("crossing_kind", "crossings"),
)


@dataclass(frozen=True, slots=True)
class RuleShown:
    """A rule in words: how much per what, where it applies, and its source."""

    row: RuleRow
    item_id: int
    description: str
    how: str
    when: str


@dataclass(frozen=True, slots=True)
class BookShown:
    """A published book, its rules by stage."""

    book: RuleBook
    stages: tuple[tuple[str, tuple[RuleShown, ...]], ...]
    count: int


def books(site: Site) -> SiteQuerySet[Any]:
    """Return every published version, the newest first, with how many rules and runs each has."""
    return (
        RuleBook.objects.of(site)
        .select_related("published_by")
        .annotate(rule_count=Count("rules", distinct=True), run_count=Count("takeoffs", distinct=True))
        .order_by("-version")
    )


def book_shown(site: Site, book: RuleBook) -> BookShown:
    """Return a published book in words."""
    rows = queries.rows_of(book)
    items = {item.code: item for item in Item.objects.of(site)}
    shown = [
        RuleShown(row, items[row.item].pk, items[row.item].description, _how(row, site), _when(row)) for row in rows
    ]
    stages = [(str(stage.label), tuple(rule for rule in shown if rule.row.stage == stage.value)) for stage in StageName]
    return BookShown(book, tuple(stage for stage in stages if stage[1]), len(rows))


def book_as_sheet(site: Site, book: RuleBook) -> bytes:
    """Return a book as a workbook with the one sheet `rules`, which a planner may change and load again."""
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "rules"
    columns = [column.name for column in RulesTable.columns]
    sheet.append(columns)
    for head in sheet[1]:
        head.font = Font(bold=True)
    for row in queries.rows_of(book):
        values = (cell(row, column, site.unit) for column in columns)
        sheet.append([text_cell(value) if isinstance(value, str) else value for value in values])
    sheet.freeze_panes = "B2"
    for letter in "ABG":
        sheet.column_dimensions[letter].width = 32
    file = io.BytesIO()
    workbook.save(file)
    return file.getvalue()


def _how(row: RuleRow, site: Site) -> str:
    """Return how much a rule gives, per what."""

    def length(ticks: int | None) -> str:
        return exactly(ticks or 0, site.unit)

    amount = number(row.amount)
    per = {
        "each": f"{amount} for each {row.counted_on}",
        "spaced": f"{amount} at each post along the {row.counted_on}, posts at most {length(row.spacing)} apart"
        + (f", {length(row.end_offset)} in from the ends" if row.end_offset else "")
        + (f", on {row.sides} sides" if row.sides not in (None, 1) else ""),
        "cut pieces": f"{amount} for each {row.counted_on}, cut {length(row.piece)} long from the stick",
        "bead": f"{amount} × a bead {length(row.bead)} thick along each {row.counted_on}",
        "fill": f"{amount} × what is left open in each {row.counted_on}",
        "length": f"{length(row.amount)} for each {row.counted_on}",
    }[row.measure]
    extra = f"; {percent(from_ticks(row.allowance))} on top" if row.allowance else ""
    rounding = "; rounded up once for the site" if row.rounding == "site" else ""
    return f"{per}{extra}{rounding}"


def _when(row: RuleRow) -> str:
    """Return where a rule applies; empty where it does everywhere."""
    return "; ".join(_conditions(row))


def _conditions(row: RuleRow) -> Iterator[str]:
    for name, words in CONDITIONS:
        if value := getattr(row, name):
            yield f"{words} {value}"
    if row.fire_rated is not None:
        yield "fire-rated" if row.fire_rated else "not fire-rated"
    for what, low, high in (
        ("ground cable", row.ground_min, row.ground_max),
        ("cable", row.cable_min, row.cable_max),
    ):
        if low and high:
            yield f"{what} {low} to {high}"
        elif low or high:
            yield f"{what} from {low}" if low else f"{what} to {high}"
