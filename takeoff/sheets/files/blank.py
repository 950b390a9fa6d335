"""A workbook of empty tables to fill in, with the allowed words as drop-downs. Pure: no Django."""

from __future__ import annotations

import io
from collections.abc import Iterable

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choices, Day, Moment, Money, Number, Whole
from takeoff.sheets.cells.measured import Percent
from takeoff.sheets.files.column_words import default_of, kind_of
from takeoff.sheets.table_kinds import Table

LISTS = "lists"  # a hidden sheet, which loading passes over
FILLED_ROWS = 5_000  # rows that have drop-downs


def empty_workbook(tables: Iterable[Table], unit: str = "ft") -> bytes:
    """
    Return an .xlsx file with one sheet for each table: its header with what each column is, and no rows.

    unit : the site's, ft or m: what defaults and examples are told in.
    """
    book = Workbook()
    lists = book.active
    lists.title = LISTS
    lists.sheet_state = "hidden"
    ranges: dict[tuple[str, ...], str] = {}
    for table in tables:
        sheet = book.create_sheet(table.name)
        for index, column in enumerate(table.columns, start=1):
            _head(sheet, index, column.on(unit))
            words = () if isinstance(column.kind, Choices) else column.kind.choices
            if words:
                if words not in ranges:
                    ranges[words] = _listed(lists, len(ranges) + 1, words)
                choice = DataValidation(type="list", formula1=ranges[words], allow_blank=not column.required)
                choice.error = f"Expected {kind_of(column)}"[:255]
                choice.add(f"{get_column_letter(index)}2:{get_column_letter(index)}{FILLED_ROWS}")
                sheet.add_data_validation(choice)
        sheet.freeze_panes = "A2"
    book.move_sheet(lists, len(book.sheetnames))
    book.active = 0
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _head(sheet: Worksheet, index: int, column: Column) -> None:
    """Write one header cell, and format its column so that a spreadsheet makes no date of `12-6` or `1/2`."""
    cell = sheet.cell(row=1, column=index, value=column.name)
    cell.font = Font(bold=column.required)
    text = f"{column.help}\n{kind_of(column)}\n{'' if column.required else 'empty: '}{default_of(column)}"
    if column.example:
        text += f"\nexample: {column.example}"
    cell.comment = Comment(text, "Reelkeep", height=120, width=300)
    dimension = sheet.column_dimensions[get_column_letter(index)]
    dimension.width = max(12, len(column.name) + 4)
    dimension.number_format = _format(column)


def _format(column: Column) -> str:
    if isinstance(column.kind, Day):
        return "yyyy-mm-dd"
    if isinstance(column.kind, Moment):
        return "yyyy-mm-dd hh:mm"
    if isinstance(column.kind, Percent):
        return "0.0#%"
    if isinstance(column.kind, Whole | Number | Money):
        return "General"
    return "@"


def _listed(lists: Worksheet, index: int, words: tuple[str, ...]) -> str:
    """Write the words of a drop-down into the hidden sheet and return where they are."""
    for row, word in enumerate(words, start=1):
        lists.cell(row=row, column=index, value=word)
    letter = get_column_letter(index)
    return f"{LISTS}!${letter}$1:${letter}${len(words)}"
