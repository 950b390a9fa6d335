"""The close-out of a site or a run as a workbook: one sheet for each of its parts. Money only where it may be seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import floor

from openpyxl import Workbook

from kits.closing.pages import ClosingPage
from kits.closing.sums.against_plan import TotalUse
from takeoff.sheets.files.export import text_cell
from takeoff.sheets.files.sheet_writer import (
    LiveFormula,
    Look,
    StreamedTable,
    Value,
    WrittenColumn,
    amount_of,
    content_of,
    new_workbook,
    paper_for,
)
from takeoff.units.exact import from_ticks
from takeoff.units.shown import rough

Row = Mapping[str, Value]

SURPLUS = (
    WrittenColumn("Item", 16),
    WrittenColumn("Description", 30),
    WrittenColumn("Lot", 16),
    WrittenColumn("Last day", 11, "date"),
    WrittenColumn("Left", 10, "quantity"),
    WrittenColumn("Unit", 10),
    WrittenColumn("Unit price", 11, "money"),
    WrittenColumn("Worth", 12, "money"),
    WrittenColumn("Supplier", 20),
    WrittenColumn("Takes back", 30),
)
REELS = (
    WrittenColumn("What", 20),
    WrittenColumn("Reel", 14),
    WrittenColumn("Cable", 14),
    WrittenColumn("Left", 14),
    WrittenColumn("Worth", 12, "money"),
)
USE = (
    WrittenColumn("Item", 16),
    WrittenColumn("Description", 30),
    WrittenColumn("Run", 12),
    WrittenColumn("Stage", 13),
    WrittenColumn("Planned", 10, "quantity"),
    WrittenColumn("Used", 10, "quantity"),
    WrittenColumn("More", 10, "formula"),
    WrittenColumn("Unit", 10),
    WrittenColumn("Unit price", 11, "money"),
    WrittenColumn("Worth of the difference", 12, "money"),
)
TOTALS = (
    WrittenColumn("Of", 8),
    WrittenColumn("Name", 18),
    WrittenColumn("Stages done", 9, "count"),
    WrittenColumn("Items over plan", 9, "count"),
    WrittenColumn("Items under plan", 9, "count"),
    WrittenColumn("Worth of the difference", 14, "money"),
    WrittenColumn("Without a price", 9, "count"),
)
OPEN = (
    WrittenColumn("What", 14),
    WrittenColumn("Name", 28),
    WrittenColumn("Whose", 22),
    WrittenColumn("State", 16),
    WrittenColumn("Lines", 8, "count"),
)
MONEY = frozenset({"Unit price", "Worth", "Worth of the difference", "Without a price"})


def closing_workbook(page: ClosingPage, *, prices: bool) -> bytes:
    """Return the workbook. prices : whether money is told."""
    book = new_workbook(f"Close-out {page.run or page.site}")
    _table(book, page, "Left over", SURPLUS, _surplus(page), prices, total="Worth")
    _table(book, page, "Reels", REELS, _reels(page), prices, total="Worth")
    _table(book, page, "Use", USE, _uses(page), prices, total="Worth of the difference")
    if page.runs:
        totals = (*_totals("run", page, page.runs), *_totals("crew", page, page.crews))
        _table(book, page, "Use by run", TOTALS, totals, prices)
    _table(book, page, "Still open", OPEN, _open(page), prices)
    return content_of(book)


def _table(
    book: Workbook,
    page: ClosingPage,
    name: str,
    columns: Sequence[WrittenColumn],
    rows: Iterable[Row],
    prices: bool,
    total: str = "",
) -> None:
    shown = [column for column in columns if prices or column.title not in MONEY]
    table = StreamedTable(book, _look(page, name), shown)
    for row in rows:
        formulas = {"More": LiveFormula(f"=F{table.next_row}-E{table.next_row}")} if name == "Use" else {}
        table.append({**row, **formulas})
    totals = {}
    if prices and total:
        totals = {total: LiveFormula(f"=SUM({table.span(total)})")}
    table.finish(totals)


def _look(page: ClosingPage, name: str) -> Look:
    of = str(page.run or page.site)
    return Look(
        name=name,
        title=f"Close-out of {of}: {name.lower()}",
        facts=[page.site.name, f"as of {page.as_of.isoformat()}", f"money in {page.site.currency}"],
        note="What nobody wrote down is not in here. Ask the supplier before anything is sent back.",
        footer=f"{page.site.name} · {of} · {name}",
        footer_right=page.as_of.isoformat(),
        currency=page.site.currency,
        paper=paper_for(page.site.unit),
    )


def _surplus(page: ClosingPage) -> Iterator[Row]:
    for row in page.items.surplus:
        for lot in row.lots:
            worth = row.worth_of(lot)
            yield {
                "Item": text_cell(row.item.code),
                "Description": text_cell(row.item.description),
                "Lot": text_cell(lot.lot),
                "Last day": lot.expires,
                "Left": from_ticks(lot.quantity),
                "Unit": text_cell(row.item.unit),
                "Unit price": amount_of(row.item.unit_cost, page.site.currency),
                "Worth": amount_of(worth, page.site.currency),
                "Supplier": text_cell(row.item.supplier),
                "Takes back": text_cell(row.takes_back or "ask the supplier"),
            }


def _reels(page: ClosingPage) -> Iterator[Row]:
    for reels in page.whole:
        worth = {"Worth": amount_of(reels.worth, page.site.currency)}
        yield {"What": "whole reels, all", "Cable": text_cell(reels.cable.code), **_length(page, reels.length), **worth}
    for what, entries in page.reels.groups:
        for entry in entries:
            yield {
                "What": what,
                "Reel": text_cell(entry.reel.tag),
                "Cable": text_cell(entry.reel.cable.code),
                **_length(page, entry.left),
            }


def _length(page: ClosingPage, ticks: int) -> Row:
    return {"Left": rough(ticks, page.site.unit, floor) if ticks else None}


def _uses(page: ClosingPage) -> Iterator[Row]:
    for use in page.items.uses:
        yield {
            "Item": text_cell(use.item.code),
            "Description": text_cell(use.item.description),
            "Run": text_cell(use.run),
            "Stage": use.stage,
            "Planned": from_ticks(use.planned),
            "Used": from_ticks(use.used),
            "Unit": text_cell(use.item.unit),
            "Unit price": amount_of(use.item.unit_cost, page.site.currency),
            "Worth of the difference": amount_of(None if use.cost is None else round(use.cost), page.site.currency),
        }


def _totals(of: str, page: ClosingPage, totals: Iterable[TotalUse]) -> Iterator[Row]:
    for one in totals:
        yield {
            "Of": of,
            "Name": text_cell(one.name),
            "Stages done": one.stages,
            "Items over plan": one.over,
            "Items under plan": one.under,
            "Worth of the difference": amount_of(one.cost, page.site.currency),
            "Without a price": one.unpriced,
        }


def _open(page: ClosingPage) -> Iterator[Row]:
    for order, lines in page.open.orders:
        told = text_cell(order), text_cell(order.supplier), str(order.get_state_display())
        yield dict(zip(("What", "Name", "Whose", "State", "Lines"), ("order", *told, lines), strict=True))
    for claim in page.open.claims:
        whose = text_cell(claim.shipment.supplier or claim.shipment.carrier)
        yield {
            "What": "claim",
            "Name": text_cell(claim),
            "Whose": whose,
            "State": "open",
            "Lines": len(claim.lines.all()),
        }
    for run, stage, items in page.open.asked:
        yield {"What": "use not said", "Name": text_cell(f"{run}, {stage}"), "State": "done", "Lines": items}
    if page.open.held:
        yield {"What": "on hold", "Name": "items that wait for a decision", "Lines": page.open.held}
