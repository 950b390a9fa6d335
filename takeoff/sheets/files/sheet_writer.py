"""
A table streamed into a sheet of a workbook, with a heading above it, ready to be read, printed and sent.

Each column has styled cells that are filled again for every row, so a long list costs little more than its values.
Only a `Formula` is ever written as one; text goes through `text_cell` before it comes here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from io import BytesIO
from typing import Any, ClassVar

from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from takeoff.sheets.files.export import text_cell
from takeoff.units.money import minor_digits

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"  # its type, as a browser is told
LETTER, A4 = 1, 9  # paper sizes as the .xlsx format numbers them
HEADER_ROW = 5
FIRST_ROW = HEADER_ROW + 1

_FACE, _SIZE, _LINE_HEIGHT, _HIGHEST = "Arial", 10, 13, 400
_INK, _GREY, _BAND, _REPLY = "FF1F2933", "FF9AA5B1", "FFE4E7EB", "FFFBF6E7"
_THIN, _THICK = Side(style="thin", color=_GREY), Side(style="medium", color=_INK)


class LiveFormula(str):
    """A formula of ours, with its leading `=`."""

    __slots__ = ()


Value = LiveFormula | str | int | Decimal | date | None


@dataclass(frozen=True, slots=True)
class WrittenColumn:
    """A column: its header, width in characters, kind of value, and whether the reader fills it in."""

    title: str
    width: float
    kind: str = "text"  # text, count, quantity, formula, money or date
    reply: bool = False

    @property
    def alignment(self) -> Alignment:
        """Text stands left and wraps, numbers and dates right."""
        if self.kind == "text":
            return Alignment(horizontal="left", vertical="top", wrap_text=True, indent=1)
        return Alignment(horizontal="right", vertical="top")


@dataclass(frozen=True, slots=True)
class Look:
    """
    What a sheet is called and says around its table. `paper` is LETTER or A4; both print well.

    protected : only cells to fill in can be typed into; there is no password.
    """

    name: str
    title: str
    facts: Sequence[str]
    note: str
    footer: str
    footer_right: str
    currency: str
    paper: int = LETTER
    protected: bool = False


def new_workbook(title: str, *, live: bool = True) -> Workbook:
    """Return an empty workbook to write sheets into. live : whether it has formulas, worked out as it is opened."""
    workbook = Workbook(write_only=True)
    workbook.properties.creator = "Reelkeep"
    workbook.properties.title = text_cell(title)
    if live:
        workbook.calculation.fullCalcOnLoad = True
    return workbook


def content_of(workbook: Workbook) -> bytes:
    """Return a workbook as a file, once all of it is written."""
    content = BytesIO()
    workbook.save(content)
    return content.getvalue()


def paper_for(unit: str) -> int:
    """Return the paper of a site by its unit of length: LETTER where it is feet, else A4."""
    return LETTER if unit == "ft" else A4


def amount_of(minor: int | None, currency: str) -> Decimal | None:
    """Return whole minor units as an amount of `currency`."""
    return None if minor is None else Decimal(minor).scaleb(-minor_digits(currency))


def number_format(kind: str, currency: str) -> str:
    """Return the number format of a kind of column; dates are written the one way that nobody misreads."""
    digits = minor_digits(currency)
    formats = {
        "count": "0",
        "quantity": "#,##0",
        "part quantity": "#,##0.0###",
        "formula": "General",
        "money": f"#,##0.{'0' * digits}" if digits else "#,##0",
        "date": "yyyy-mm-dd",
    }
    return formats.get(kind, "@")


class _BodyCell(Cell):
    """
    A cell of the body, filled again for every row: its style is settled once, what it holds is written as what it is.

    openpyxl looks up the style and guesses the type of every value anew, and takes text such as `=1` or `#N/A` for more
    than text.
    """

    __slots__ = ("_settled",)

    _TYPES: ClassVar[dict[type, str]] = {str: "s", LiveFormula: "f", date: "d"}

    def __init__(self, sheet: Any) -> None:
        super().__init__(sheet, row=1, column=1)
        self._settled: int | None = None

    def fill_with(self, value: Value) -> None:
        """Hold `value`."""
        self._value = None if value == "" else value  # type: ignore[misc]  # a slot of openpyxl's class
        self.data_type = self._TYPES.get(value.__class__, "n") if value else "n"  # type: ignore[misc]  # likewise

    @property
    def style_id(self) -> int:
        """The number of the cell's style, which must not change once it was written."""
        if self._settled is None:
            self._settled = super().style_id
        return self._settled

    @property
    def has_style(self) -> bool:
        """Always: every cell of the body has one."""
        return True


def _placed(cells: Iterable[Any], row: int) -> Iterator[Any]:
    """Yield the cells of a row, told where they stand."""
    for column, cell in enumerate(cells, 1):
        cell.row, cell.column = row, column
        yield cell


class StreamedTable:
    """A sheet that takes one row after another, top to bottom."""

    def __init__(self, workbook: Workbook, look: Look, columns: Sequence[WrittenColumn]) -> None:
        self.columns = columns
        self.currency = look.currency
        self.next_row = FIRST_ROW
        self._sheet: Any = workbook.create_sheet(look.name)
        # openpyxl first takes every cell for a value and catches its own error; these rows hold cells only.
        self._sheet._values_to_row = _placed
        self._prepare_pages(look)
        self._write_heading(look)
        self._cells = [self._pair(column) for column in columns]
        # After how many characters text wraps: widths are told in digits, and most letters are narrower.
        self._wraps = [int(column.width * 1.1) if column.kind == "text" else 0 for column in columns]

    def letter(self, title: str) -> str:
        """Return the letter of the column with this header."""
        return str(get_column_letter(next(i for i, column in enumerate(self.columns, 1) if column.title == title)))

    def append(self, told: Mapping[str, Value]) -> None:
        """Add a row: values by the headers of their columns, the other cells empty; as high as its text needs."""
        lines, row = 1, []
        for column, (whole, part), wrap in zip(self.columns, self._cells, self._wraps, strict=True):
            value = told.get(column.title)
            cell = part if isinstance(value, Decimal) and value % 1 else whole
            cell.fill_with(value)
            row.append(cell)
            if wrap and isinstance(value, str) and (len(value) > wrap or "\n" in value):
                lines = max(lines, sum(1 + max(0, len(text) - 1) // wrap for text in value.split("\n")))
        if lines > 1:
            # As the writer asks for it; a RowDimension says the same at several times the cost.
            height = min(_HIGHEST, _LINE_HEIGHT * lines + 4)
            self._sheet.row_dimensions[self.next_row] = {"ht": f"{height}", "customHeight": "1"}
        self._sheet.append(row)
        self.next_row += 1

    def span(self, title: str) -> str:
        """Return the range of a column over the rows that are there."""
        letter = self.letter(title)
        return f"{letter}{FIRST_ROW}:{letter}{self.next_row - 1}"

    def finish(self, totals: Mapping[str, LiveFormula | str]) -> None:
        """Let the reader filter the rows, and write `totals` below them, each by the header of its column."""
        self._sheet.auto_filter.ref = f"A{HEADER_ROW}:{get_column_letter(len(self.columns))}{self.next_row - 1}"
        row = []
        for column in self.columns:
            cell = self._cell(totals.get(column.title), bold=True)
            cell.alignment = column.alignment
            cell.border = Border(top=_THICK)
            cell.number_format = number_format(column.kind, self.currency) if column.kind != "text" else "General"
            row.append(cell)
        self._sheet.append(row)

    def _cell(self, value: Value = None, **font: Any) -> Any:
        cell = WriteOnlyCell(self._sheet, value)
        cell.font = Font(**{"name": _FACE, "size": _SIZE, "color": _INK, **font})
        return cell

    def _pair(self, column: WrittenColumn) -> tuple[_BodyCell, _BodyCell]:
        """Return the cells of a column: for whole numbers and all else, and for numbers with a part."""
        pair = []
        for kind in (column.kind, "part quantity" if column.kind == "quantity" else column.kind):
            cell = _BodyCell(self._sheet)
            cell.font = Font(name=_FACE, size=_SIZE, color=_INK)
            cell.alignment = column.alignment
            cell.border = Border(bottom=_THIN)
            cell.number_format = number_format(kind, self.currency)
            if column.reply:
                cell.fill = PatternFill("solid", start_color=_REPLY)
                cell.protection = Protection(locked=False)
            pair.append(cell)
        return pair[0], pair[1]

    def _prepare_pages(self, look: Look) -> None:
        """Set widths, the frozen header and how the sheet prints: as wide as the page, as long as it takes."""
        sheet = self._sheet
        for index, column in enumerate(self.columns, 1):
            sheet.column_dimensions[get_column_letter(index)].width = column.width
        sheet.freeze_panes = f"A{FIRST_ROW}"
        sheet.sheet_view.showGridLines = False
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.paperSize = look.paper
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.print_title_rows = f"{HEADER_ROW}:{HEADER_ROW}"
        sheet.print_options.horizontalCentered = True
        if look.protected:
            sheet.protection.sheet = True
            # What it does not keep anybody from: wider columns, and a row for a second delivery.
            sheet.protection.formatColumns = sheet.protection.formatRows = sheet.protection.insertRows = False
        margins = sheet.page_margins
        margins.left = margins.right = 0.35
        margins.top, margins.bottom, margins.header, margins.footer = 0.45, 0.65, 0.25, 0.3
        # An ampersand starts a code in a footer, and all three parts together hold 255 characters.
        sheet.oddFooter.left.text = text_cell(look.footer)[:120].replace("&", "&&")
        sheet.oddFooter.center.text = "Page &P of &N"
        sheet.oddFooter.right.text = look.footer_right.replace("&", "&&")

    def _write_heading(self, look: Look) -> None:
        """Write the rows above the table and its header row."""
        sheet = self._sheet
        sheet.append([self._cell(text_cell(look.title), bold=True, size=15)])
        sheet.append([self._cell(text_cell(" · ".join(look.facts)))])
        sheet.append([self._cell(text_cell(look.note), italic=True)])
        sheet.append([])
        header = []
        for column in self.columns:
            cell = self._cell(column.title, bold=True)
            cell.fill = PatternFill("solid", start_color=_REPLY if column.reply else _BAND)
            cell.border = Border(top=_THIN, bottom=_THICK)
            cell.alignment = column.alignment
            header.append(cell)
        sheet.append(header)
