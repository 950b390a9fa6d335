"""
Reading the workbook that came back from a supplier: what he confirms row by row, and what is wrong with a row.

It is held against the very bytes that were sent. A cell that was not to be filled in and differs is answered by its
row: nothing of that row is taken over.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import IO, Any
from uuid import UUID, uuid5

from kits.orders.models import Order, OrderFile, OrderLine
from kits.reorders.order_file import COLUMNS, SHEET
from takeoff.sheets.cells.kinds import Day, Number, Text
from takeoff.sheets.cells.problems import CellError
from takeoff.sheets.files.sheet_writer import HEADER_ROW
from takeoff.sheets.files.sources import Sheet, SourceError, read_file
from takeoff.units.shown import day_month_year

WITHIN = UUID("6c2f1f0a-7f2e-4d56-9d0f-2b6a0c8f5e11")  # the ids of rows that are read from replies are made within it
ASKED = tuple(column.title for column in COLUMNS if not column.reply and column.title != "Amount")
READS = {
    "Confirmed": Number(),
    "Arrives on": Day(),
    "Your price": Number(),
    "Other part": Text(120),
    "Remark": Text(300),
}


class ReplyError(Exception):
    """A file that answers no order, or not this one as it stands; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class ReplyRow:
    """
    A row of the file. problem : why nothing of it is taken over. differs : how it differs from what was ordered.

    cells : of the record that it makes.
    """

    number: int
    line: OrderLine | None
    problem: str = ""
    differs: tuple[str, ...] = ()
    cells: dict[str, str] | None = None


@dataclass(frozen=True, slots=True)
class ReplyReading:
    """What a file says. missing : lines of the order that it does not answer."""

    rows: tuple[ReplyRow, ...]
    missing: tuple[OrderLine, ...]
    sha256: str


def read_reply(
    order: Order, files: Sequence[OrderFile], lines: Sequence[OrderLine], file: IO[bytes], name: str
) -> ReplyReading:
    """
    Return what a file says of an order. files : those that were sent, the last first. lines : in the order of the file.

    Raises ReplyError.
    """
    content = file.read()
    try:
        sent = {one.revision: _sheet(bytes(one.content), one.name) for one in files}
        sheet = _sheet(content, name)
    except SourceError as error:
        raise ReplyError(str(error)) from error
    if not files:
        raise ReplyError(f"No file of {order} was sent: there is nothing that could have come back.")
    title = sheet.header[0] if sheet.header else None
    revision = next((number for number, one in sent.items() if one.header[:1] == (title,)), None)
    if revision is None:
        told = f"It says “{title}”." if title else "It has no title."
        raise ReplyError(f"This is no file of order {order}. {told}")
    if revision != files[0].revision:
        raise ReplyError(
            f"This answers revision {revision}; revision {files[0].revision} was sent since. Ask for its answer."
        )
    digest = hashlib.sha256(content).hexdigest()
    rows = tuple(_rows(order, sent[revision], sheet, lines, digest))
    answered = {row.line.pk for row in rows if row.line}
    return ReplyReading(rows, tuple(line for line in lines if line.pk not in answered), digest)


def _sheet(content: bytes, name: str) -> Sheet:
    found = read_file(io.BytesIO(content), name)
    return next((sheet for sheet in found if sheet.name == SHEET), found[0] if found else Sheet(SHEET))


def _told(sheet: Sheet) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield the rows below the header, each with its number, by header; a row that holds nothing is left out."""
    heads = next((row for number, row in sheet.rows if number == HEADER_ROW), ())
    for number, row in sheet.rows:
        if number > HEADER_ROW:
            yield number, {str(head): cell for head, cell in zip(heads, row, strict=False) if head is not None}


def _rows(order: Order, sent: Sheet, sheet: Sheet, lines: Sequence[OrderLine], digest: str) -> Iterator[ReplyRow]:
    asked = {cells.get("Line"): cells for _, cells in _told(sent) if isinstance(cells.get("Line"), int)}
    line: OrderLine | None = None
    for number, cells in _told(sheet):
        place = cells.get("Line")
        filled = any(cells.get(head) not in (None, "") for head in READS)
        if place in (None, ""):
            if not filled:
                continue
            if line is None or any(cells.get(head) not in (None, "") for head in ASKED):
                yield ReplyRow(number, None, "It has no number of a line: say which line it answers.")
                continue
        else:
            place = int(place) if isinstance(place, float) and place.is_integer() else place
            if not isinstance(place, int) or place not in asked or place > len(lines):
                line = None
                yield ReplyRow(number, None, f"The order has no line {place}: this row was not in the file.")
                continue
            line = lines[place - 1]
            if changed := [head for head in ASKED if _plain(cells.get(head)) != _plain(asked[place].get(head))]:
                told = "; ".join(f"{head} was {_plain(asked[place].get(head)) or 'empty'}" for head in changed)
                yield ReplyRow(number, line, f"Cells were changed that are ours: {told}. Ask for it as a remark.")
                continue
        if filled:
            yield _answer(order, line, number, cells, digest)
        elif line is not None:
            yield ReplyRow(number, line, "Nothing is filled in.")


def _answer(order: Order, line: OrderLine, number: int, cells: dict[str, Any], digest: str) -> ReplyRow:
    """Return what a row confirms."""
    read: dict[str, Any] = {}
    for head, kind in READS.items():
        cell = cells.get(head)
        if cell in (None, ""):
            continue
        try:
            read[head] = kind.read(cell)
        except CellError as error:
            return ReplyRow(number, line, f"{head}: expected {error.expected}, found {cell}.")
    if "Confirmed" not in read:
        return ReplyRow(number, line, "Confirmed is empty: ask how many are confirmed, 0 where nothing comes.")
    row = {
        "id": str(uuid5(WITHIN, f"{order.pk} {digest} {number}")),
        "order": order.name,
        "quantity": _plain(read["Confirmed"]),
        "how": "our file",
        "reply": str(uuid5(WITHIN, f"{order.pk} {digest}")),
        "arrives": _plain(read.get("Arrives on")),
        "price": _plain(read.get("Your price")),
        "other_part": read.get("Other part", ""),
        "note": read.get("Remark", ""),
        "item": str(line.item or ""),
        "cable": str(line.cable or ""),
        "run": str(line.run or ""),
        "reel_length": f"{_plain(line.reel_length)} mm" if line.reel_length else "",
    }
    return ReplyRow(number, line, differs=tuple(_differs(line, read)), cells={k: v for k, v in row.items() if v})


def _differs(line: OrderLine, read: dict[str, Any]) -> Iterator[str]:
    """Yield how an answer differs from what was ordered."""
    if read["Confirmed"] != line.quantity:
        yield f"{_plain(read['Confirmed'])} of {_plain(line.quantity)} confirmed"
    on = read.get("Arrives on")
    if on is None:
        yield "no day"
    elif line.need_by and on > line.need_by:
        yield f"arrives {day_month_year(on)}, {(on - line.need_by).days} days after {day_month_year(line.need_by)}"
    if "Your price" in read:
        yield "another price"
    if "Other part" in read:
        yield f"offers {read['Other part']} instead"
    if "Remark" in read:
        yield str(read["Remark"])


def _plain(cell: Any) -> str:
    """Return a cell as text, the same for what a spreadsheet program writes in another way."""
    if isinstance(cell, datetime):
        cell = cell.date()
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, float | Decimal):
        return f"{Decimal(str(cell)).normalize():f}"
    return "" if cell is None else str(cell).strip()
