"""The workbook of one order that goes to its supplier: what is ordered, and cells for the answer."""

from __future__ import annotations

import re

from openpyxl import Workbook

from kits.orders.models import Order, OrderLine, OrderStep
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
from takeoff.sites.queries import where_to_send
from takeoff.units.exact import to_ticks
from takeoff.units.money import minor_digits
from takeoff.units.shown import near, written_as_in

SHEET = "Order"
COLUMNS = (
    WrittenColumn("Line", 5, "count"),
    WrittenColumn("Part", 12),
    WrittenColumn("Item", 15),
    WrittenColumn("Description", 25),
    WrittenColumn("Run", 8),
    WrittenColumn("Size", 10),
    WrittenColumn("Grade", 10),
    WrittenColumn("Accepted instead", 12),
    WrittenColumn("Do not send", 12),
    WrittenColumn("Quantity", 9.5, "quantity"),
    WrittenColumn("Unit", 8),
    WrittenColumn("Pack of", 8, "quantity"),
    WrittenColumn("Need by", 11, "date"),
    WrittenColumn("Unit price", 10, "money"),
    WrittenColumn("Amount", 11.5, "money"),
    WrittenColumn("Confirmed", 10, "quantity", reply=True),
    WrittenColumn("Arrives on", 11, "date", reply=True),
    WrittenColumn("Your price", 10, "money", reply=True),
    WrittenColumn("Other part", 12, reply=True),
    WrittenColumn("Remark", 14, reply=True),
)
NOTE = (
    "Please fill in the shaded cells and send this file back: what you confirm, and the day it arrives. For a second "
    "delivery insert a row below the line and fill in only its shaded cells."
)


def title_of(order: Order, revision: int | None) -> str:
    """Return what stands at the head of the file; by it the file is known again."""
    return text_cell(f"Order {order.name}, revision {revision}: {order.supplier}")


def write_order_file(order: Order, step: OrderStep) -> tuple[str, bytes]:
    """Return name and content of the workbook of an order as it is sent by a step."""
    with written_as_in(""):  # it leaves the site
        content = content_of(_workbook(order, step))
    plain = re.sub(r"[^A-Za-z0-9-]+", "-", order.name).strip("-") or "order"
    return f"{plain}-rev{step.revision}.xlsx", content


def _workbook(order: Order, step: OrderStep) -> Workbook:
    site = order.site
    on = site.local_date(step.at).isoformat()
    po = order.po or "to follow"
    facts = [f"from {site.name}", f"purchase order {po}", f"date {on}", f"prices in {site.currency}"]
    facts += where_to_send(site)
    workbook = new_workbook(f"Order {order.name}")
    look = Look(
        name=SHEET,
        title=title_of(order, step.revision),
        facts=facts,
        note=NOTE,
        footer=f"{order.name} · {order.supplier}",
        footer_right=f"revision {step.revision} · {on}",
        currency=site.currency,
        paper=paper_for(site.unit),
        protected=True,
    )
    table = StreamedTable(workbook, look, COLUMNS)
    quantity, price, digits = table.letter("Quantity"), table.letter("Unit price"), minor_digits(site.currency)
    lines = OrderLine.objects.of(site).filter(order=order).select_related("item", "cable", "run").order_by("pk")
    for number, line in enumerate(lines, 1):
        row = table.next_row
        amount = f'=IF({price}{row}="","",ROUND({quantity}{row}*{price}{row},{digits}))'
        table.append(
            {
                "Line": number,
                **(_of_item(line) if line.item else _of_cable(line, site.unit)),
                "Run": text_cell(line.run),
                "Size": text_cell(line.size),
                "Quantity": line.quantity,
                "Need by": line.need_by,
                "Unit price": amount_of(line.price, site.currency),
                "Amount": LiveFormula(amount),
            }
        )
    table.finish(
        {
            "Description": LiveFormula(
                f"=IF(COUNT({table.span('Unit price')})<COUNT({table.span('Quantity')}),"
                '"the total leaves out lines without a price","")'
            ),
            "Unit price": "Total",
            "Amount": LiveFormula(f"=SUM({table.span('Amount')})"),
        }
    )
    return workbook


def _of_item(line: OrderLine) -> dict[str, Value]:
    item = line.item
    assert item is not None
    return {
        "Part": text_cell(item.supplier_part),
        "Item": text_cell(item.code),
        "Description": text_cell(item.description),
        "Grade": text_cell(item.grade),
        "Accepted instead": text_cell(item.accept),
        "Do not send": text_cell(item.refuse),
        "Unit": text_cell(item.unit),
        "Pack of": item.pack,
    }


def _of_cable(line: OrderLine, unit: str) -> dict[str, Value]:
    cable = line.cable
    assert cable is not None
    assert line.reel_length is not None
    return {
        "Part": text_cell(cable.supplier_part),
        "Item": text_cell(cable.code),
        "Description": text_cell(f"{cable.size} {cable.insulation}, reel of {near(to_ticks(line.reel_length), unit)}"),
        "Unit": "reel",
        "Pack of": 1,
    }
