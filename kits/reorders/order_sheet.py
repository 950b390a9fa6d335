"""The two sheets of a reorder workbook: one to order from, one that says why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import chain

from openpyxl import Workbook

from kits.reorders.cable_rows import cables_to_order, why_cables
from kits.reorders.why_words import arithmetic_in_words, causes_in_words
from kits.shortages.reckon.lines import CableLine, ShortLine
from kits.shortages.told.by_supplier import OrderList
from kits.shortages.told.words import no_answer_in_words
from takeoff.sheets.files.export import text_cell
from takeoff.sheets.files.sheet_writer import (
    LiveFormula,
    Look,
    StreamedTable,
    Value,
    WrittenColumn,
    amount_of,
    paper_for,
)
from takeoff.sites.models import Site
from takeoff.sites.queries import where_to_send
from takeoff.units.exact import from_ticks
from takeoff.units.money import minor_digits

RECORDS_NO_ORDER = (
    "Printing or sending this list records no order: once it is sent, load it in Reelkeep as a sheet of orders "
    "with the state sent, so that it counts as coming."
)

ORDER_COLUMNS = (
    WrittenColumn("No.", 4.5, "count"),
    WrittenColumn("Part", 12),
    WrittenColumn("Item", 16),
    WrittenColumn("Description", 27),
    WrittenColumn("Run", 8),
    WrittenColumn("Size", 12),
    WrittenColumn("Grade", 11),
    WrittenColumn("Do not send", 12),
    WrittenColumn("Quantity", 9.5, "quantity"),
    WrittenColumn("Unit", 8),
    WrittenColumn("Pack of", 8, "quantity"),
    WrittenColumn("Packs", 7, "formula"),
    WrittenColumn("Need by", 11, "date"),
    WrittenColumn("Unit price", 10, "money"),
    WrittenColumn("Amount", 11.5, "money"),
    WrittenColumn("Confirmed", 10.5, "quantity", reply=True),
    WrittenColumn("Ship date", 11, "date", reply=True),
    WrittenColumn("Note", 14, reply=True),
)
EXPEDITE_COLUMNS = (
    WrittenColumn("Shipment or order", 18),
    WrittenColumn("Part", 12),
    WrittenColumn("Item", 16),
    WrittenColumn("Description", 30),
    WrittenColumn("Brings", 9, "quantity"),
    WrittenColumn("To expedite", 10, "quantity"),
    WrittenColumn("Unit", 8),
    WrittenColumn("Expected", 11, "date"),
    WrittenColumn("Missing from", 11, "date"),
    WrittenColumn("Days late", 8, "count"),
    WrittenColumn("How it stands", 26),
    WrittenColumn("Comes on", 11, "date", reply=True),
    WrittenColumn("Note", 14, reply=True),
)
WHY_COLUMNS = (
    WrittenColumn("Item", 16),
    WrittenColumn("Order by", 11, "date"),
    WrittenColumn("Runs that wait", 20),
    WrittenColumn("Need", 8.5, "quantity"),
    WrittenColumn("Usable", 8.5, "quantity"),
    WrittenColumn("Inbound", 8.5, "quantity"),
    WrittenColumn("Gap", 8.5, "formula"),
    WrittenColumn("What the gap is made of", 30),
    WrittenColumn("Use", 8.5, "quantity"),
    WrittenColumn("Spare", 8.5, "quantity"),
    WrittenColumn("Timing", 8.5, "quantity"),
    WrittenColumn("Other runs", 8.5, "quantity"),
    WrittenColumn("Short", 8.5, "formula"),
    WrittenColumn("Order", 8.5, "quantity"),
    WrittenColumn("How the quantity came about", 46),
)


@dataclass(frozen=True, slots=True)
class OrderHeading:
    """Whose list it is, and for whom. level : the site's service level as a fraction."""

    site: Site
    supplier: str
    as_of: date
    level: Fraction

    @property
    def supplier_name(self) -> str:
        """The supplier, or words for none."""
        return self.supplier or "no supplier named"

    def look(self, *, name: str, title: str, facts: Sequence[str]) -> Look:
        """Return how a sheet of this list looks."""
        return Look(
            name=name,
            title=f"{title}: {self.supplier_name}",
            facts=[self.site.name, f"as of {self.as_of.isoformat()}", *facts],
            note=RECORDS_NO_ORDER,
            footer=f"{self.site.name} · {self.supplier_name} · {name}",
            footer_right=f"{self.as_of.isoformat()} · records no order",
            currency=self.site.currency,
            paper=paper_for(self.site.unit),
        )


def write_order_sheet(workbook: Workbook, heading: OrderHeading, order: OrderList) -> None:
    """Add the sheet to order from: one row for each item, amounts and totals by formula."""
    site = heading.site
    facts = [f"prices in {site.currency}"]
    facts += where_to_send(site)
    table = StreamedTable(
        workbook, heading.look(name="Order", title="Please quote and supply", facts=facts), ORDER_COLUMNS
    )
    quantity, pack, price = table.letter("Quantity"), table.letter("Pack of"), table.letter("Unit price")
    digits = minor_digits(site.currency)
    items_told = items_to_order(order.lines, currency=site.currency)
    cables_told = cables_to_order(order.cables, unit=site.unit, currency=site.currency)
    for index, told in enumerate(chain(items_told, cables_told), 1):
        row = table.next_row
        packs = LiveFormula(f"={quantity}{row}/{pack}{row}")
        amount = LiveFormula(f'=IF({price}{row}="","",ROUND({quantity}{row}*{price}{row},{digits}))')
        table.append({**told, "No.": index, "Packs": packs, "Amount": amount})
    items, prices = f"COUNTA({table.span('Item')})", f"COUNT({table.span('Unit price')})"
    table.finish(
        {
            "Item": LiveFormula(f'={items}&IF({items}=1," line"," lines")'),
            "Description": LiveFormula(
                f'=IF({prices}<{items},{items}-{prices}&" without a price, not in the total","")'
            ),
            "Packs": LiveFormula(f"=SUM({table.span('Packs')})"),
            "Unit price": "Total",
            "Amount": LiveFormula(f"=SUM({table.span('Amount')})"),
        }
    )


def items_to_order(lines: Sequence[ShortLine], *, currency: str) -> Iterator[dict[str, Value]]:
    """Yield a row for each item, or for each run that it is made for, by the headers of the sheet to order from."""
    for line in lines:
        item = line.item
        for run, size, ticks, need_by in line.orders:
            yield {
                "Part": text_cell(item.supplier_part),
                "Item": text_cell(item.code),
                "Description": text_cell(item.description),
                "Run": text_cell(run),
                "Size": text_cell(size),
                "Grade": text_cell(item.grade),
                "Do not send": text_cell(item.refuse),
                "Quantity": from_ticks(ticks),
                "Unit": text_cell(item.unit),
                "Pack of": from_ticks(item.pack),
                "Need by": need_by,
                "Unit price": amount_of(item.unit_cost, currency),
            }


def write_expedite_sheet(workbook: Workbook, heading: OrderHeading, lines: Sequence[ShortLine]) -> None:
    """Add the sheet of what is on the way and is to come sooner: one row for each item and shipment or order."""
    look = heading.look(name="Expedite", title="Please send sooner", facts=["on the way already: not ordered again"])
    table = StreamedTable(workbook, look, EXPEDITE_COLUMNS)
    for line in lines:
        item = line.item
        for one in line.too_late:
            state = f"{one.days} days after the need" if one.days is not None else "no day given"
            table.append(
                {
                    "Shipment or order": text_cell(one.name),
                    "Part": text_cell(item.supplier_part),
                    "Item": text_cell(item.code),
                    "Description": text_cell(item.description),
                    "Brings": from_ticks(one.quantity),
                    "To expedite": from_ticks(line.expedite),
                    "Unit": text_cell(item.unit),
                    "Expected": one.on,
                    "Missing from": one.since,
                    "Days late": one.days,
                    "How it stands": no_answer_in_words(one.sent) if one.no_answer else state,
                }
            )
    table.finish({})


def write_why_sheet(
    workbook: Workbook, heading: OrderHeading, lines: Sequence[ShortLine], cables: Sequence[CableLine] = ()
) -> None:
    """Add the sheet of reasons: for each item the runs, what the gap is made of, and the arithmetic in words."""
    facts = ["gap = need − usable − inbound", "short = gap + use + spare (never below 0) + timing + other runs"]
    table = StreamedTable(workbook, heading.look(name="Why", title="Why it is asked for", facts=facts), WHY_COLUMNS)
    for line in lines:
        row = table.next_row
        table.append(
            {
                "Item": text_cell(line.item.code),
                "Order by": line.order_by,
                "Runs that wait": text_cell(", ".join(line.runs)),
                "Need": from_ticks(line.need),
                "Usable": from_ticks(line.usable),
                "Inbound": from_ticks(line.inbound),
                "Gap": LiveFormula(f"=D{row}-E{row}-F{row}"),
                "What the gap is made of": text_cell(causes_in_words(line)),
                "Use": from_ticks(line.use),
                "Spare": from_ticks(line.reserve),
                "Timing": from_ticks(line.timing),
                "Other runs": from_ticks(line.other_runs),
                "Short": LiveFormula(f"=MAX(0,G{row}+I{row}+J{row})+K{row}+L{row}"),
                "Order": from_ticks(line.order),
                "How the quantity came about": text_cell(
                    arithmetic_in_words(line, level=heading.level, as_of=heading.as_of)
                ),
            }
        )
    for told in why_cables(cables, unit=heading.site.unit):
        table.append(told)
    table.finish({})
