"""
Where rows come from: a workbook, a CSV or a folder of CSVs, within limits. Pure: no Django.

Formulas and links are never followed: openpyxl reads values as they were typed, and a formula stays a formula, which
no column takes. openpyxl reads small parts through defusedxml but rows through the plain parser, so a workbook whose
XML declares a document type, where entities come from, is refused before openpyxl sees it.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any
from warnings import catch_warnings, simplefilter
from xml.parsers.expat import ExpatError, ParserCreate

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter, range_boundaries
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

from takeoff.sheets.uninterrupted import uninterrupted

MEGABYTE = 1024 * 1024
MOST_BYTES = 20 * MEGABYTE
MOST_UNPACKED = 200 * MEGABYTE
MOST_MEMBERS = 1_000
MOST_ROWS = 200_000
MOST_CELLS = 10_000_000
MOST_COLUMNS = 200
MOST_MERGED = 1_000
_HIDDEN_ROW = re.compile(rb"""<(?:\w+:)?row\b[^>]*?\shidden=["'](?:1|true)["'][^>]*>""")
_ROW_NUMBER = re.compile(rb"""\sr=["'](\d{1,7})["']""")
_MERGED = re.compile(rb"""<(?:\w+:)?mergeCell\b[^>]*?\sref=["']([A-Z]{1,3}\d{1,7}:[A-Z]{1,3}\d{1,7})["']""")
ERRORS = frozenset({"#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#GETTING_DATA"})


class SourceError(Exception):
    """A file that cannot be read as sheets; the sentence says why and what is accepted."""


@dataclass(frozen=True, slots=True)
class FormulaCell:
    """A cell that holds a formula, or the error that one left behind: no column takes it."""

    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(slots=True)
class Sheet:
    """
    A sheet as it stands in its source: the header, and the rows below it that are not empty, with their numbers.

    hidden : the numbers of rows that the file hides; they are read like the others. merged : ranges of cells that are
    merged into one, as (first column, first row, last column, last row) from 1.
    """

    name: str
    header: tuple[Any, ...] = ()
    rows: list[tuple[int, tuple[Any, ...]]] = field(default_factory=list)
    hidden: frozenset[int] = frozenset()
    merged: tuple[tuple[int, int, int, int], ...] = ()

    def merged_with(self, row: int, index: int) -> str | None:
        """Return the cell that holds what an empty cell shows, as `A2`, None where the cell is not merged."""
        for left, top, right, bottom in self.merged:
            if left <= index + 1 <= right and top <= row <= bottom and (index + 1, row) != (left, top):
                return f"{get_column_letter(left)}{top}"
        return None


def read_path(path: Path) -> list[Sheet]:
    """
    Return the sheets of a workbook (.xlsx), a CSV, or a folder (its CSVs; other files in it are ignored).

    Raises SourceError.
    """
    if path.is_dir():
        files = sorted(file for file in path.iterdir() if file.is_file() and file.suffix.lower() == ".csv")
        if not files:
            raise SourceError(f"the folder {path.name!r} holds no CSV")
        sheets, errors = [], []
        for file in files:
            try:
                sheets += read_path(file)
            except SourceError as error:
                errors.append(str(error))
        if errors:
            raise SourceError("; ".join(errors))
        _within(sum(len(sheet.rows) for sheet in sheets), 0)
        return sheets
    if not path.is_file():
        raise SourceError(f"there is no file or folder {path.name!r}")
    if path.stat().st_size > MOST_BYTES:
        raise SourceError(f"{path.name!r} is larger than {MOST_BYTES // MEGABYTE} MB")
    with path.open("rb") as stream:
        return read_file(stream, path.name)


def read_file(file: IO[bytes], name: str) -> list[Sheet]:
    """
    Return the sheets of an open file; `name` tells by its suffix what it is, and a CSV's table by its stem.

    Raises SourceError.
    """
    suffix = Path(name).suffix.lower()
    if suffix == ".xlsx":
        return _read_workbook(file, name)
    if suffix == ".csv":
        return [_read_csv(file, Path(name).stem)]
    raise SourceError(f"{name!r} is neither a workbook (.xlsx) nor a CSV (.csv)")


def _read_workbook(file: IO[bytes], name: str) -> list[Sheet]:
    _check_archive(file, name)
    try:
        with catch_warnings(), uninterrupted():
            simplefilter("ignore")  # openpyxl warns of styles and rules that values do not depend on
            workbook = load_workbook(file, read_only=True, data_only=False, keep_links=False)
            try:
                cells = 0
                sheets = []
                for worksheet in workbook.worksheets:
                    if worksheet.sheet_state != "visible":
                        continue
                    # The size that a file states may be wrong, and rows beyond it would be lost.
                    worksheet.reset_dimensions()
                    sheet, cells = _read_sheet(worksheet.title, worksheet.iter_rows(values_only=True), cells)
                    sheet.hidden, sheet.merged = _layout(file, worksheet._worksheet_path)
                    sheets.append(sheet)
                return sheets
            finally:
                workbook.close()
    except SourceError:
        raise
    except Exception as error:  # a broken file can make openpyxl, zipfile and the XML parser raise anything
        raise SourceError(f"{name!r} is damaged or no workbook ({type(error).__name__})") from error


def _layout(file: IO[bytes], path: str) -> tuple[frozenset[int], tuple[tuple[int, int, int, int], ...]]:
    """Return the hidden rows of a sheet and its merged ranges, which openpyxl does not tell while it streams."""
    hidden: set[int] = set()
    merged: list[tuple[int, int, int, int]] = []

    def look(markup: bytes) -> None:
        for tag in _HIDDEN_ROW.finditer(markup):
            if number := _ROW_NUMBER.search(tag[0]):
                hidden.add(int(number[1]))
        for tag in _MERGED.finditer(markup):
            left, top, right, bottom = range_boundaries(tag[1].decode())
            merged.append((left or 1, top or 1, right or MOST_COLUMNS, bottom or MOST_ROWS))
            if len(merged) > MOST_MERGED:
                raise SourceError(f"a sheet has more than {MOST_MERGED} merged ranges: split them")

    with zipfile.ZipFile(file) as archive, archive.open(path) as part:
        rest = b""
        while chunk := part.read(MEGABYTE):
            markup = rest + chunk
            end = markup.rfind(b"<")
            look(markup[:end])
            rest = markup[end:]
        look(rest)
    return frozenset(hidden), tuple(merged)


def _check_archive(file: IO[bytes], name: str) -> None:
    """Refuse an archive that unpacks to more than is allowed, before anything in it is read."""
    try:
        with zipfile.ZipFile(file) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS or sum(member.file_size for member in members) > MOST_UNPACKED:
                raise SourceError(f"{name!r} unpacks to more than {MOST_UNPACKED // MEGABYTE} MB")
            if any(member.flag_bits & 0x1 for member in members):
                raise SourceError(f"{name!r} is protected by a password")
            for member in members:
                with archive.open(member) as part:
                    if _declares_document_type(part):
                        raise SourceError(f"{name!r} declares XML entities, which no spreadsheet needs")
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError, NotImplementedError) as error:
        raise SourceError(f"{name!r} is damaged or no workbook: save it as .xlsx") from error
    file.seek(0)


class _Seen(Exception):  # noqa: N818  # no error: it ends the parsing of one part
    def __init__(self, document_type: bool) -> None:
        super().__init__()
        self.document_type = document_type


def _declares_document_type(part: IO[bytes]) -> bool:
    """Return whether a part is XML and declares a document type, which can only stand before the first element."""
    parser = ParserCreate()

    def seen(document_type: bool) -> Callable[..., None]:
        def stop(*_args: Any) -> None:
            raise _Seen(document_type)

        return stop

    parser.StartDoctypeDeclHandler = seen(True)
    parser.StartElementHandler = seen(False)
    try:
        parser.ParseFile(part)
    except _Seen as end:
        return end.document_type
    except ExpatError:
        return False  # a picture, or XML so broken that openpyxl will say so
    return False


def _read_sheet(name: str, rows: Iterator[tuple[Any, ...]], cells: int) -> tuple[Sheet, int]:
    """Return a sheet, and how many cells of its source have been read with it."""
    sheet = Sheet(name)
    width = 0
    for number, row in enumerate(rows, start=1):
        # Empty rows and cells count as well: a small file can name a far corner, and openpyxl fills up to it.
        cells += len(row) + 1
        if cells > MOST_CELLS:
            _within(0, cells)
        if number == 1:
            sheet.header = _trimmed(tuple(_marked(cell) for cell in row))
            width = len(sheet.header)
            if width > MOST_COLUMNS:
                raise SourceError(f"the sheet {name!r} has more than {MOST_COLUMNS} columns")
            continue
        # Cells beyond the header that hold something are kept: they are a problem, not a detail.
        if len(row) > width:
            row = _trimmed(row)
        filled = False
        for cell in row:
            if cell is not None:
                filled = True
                if cell.__class__ is not str:
                    if cell.__class__ is ArrayFormula or cell.__class__ is DataTableFormula:
                        row = tuple(_marked(cell) for cell in row)
                        break
                elif cell[:1] in {"=", "#"}:
                    row = tuple(_marked(cell) for cell in row)
                    break
        if filled:
            sheet.rows.append((number, row))
            if len(sheet.rows) > MOST_ROWS:
                _within(len(sheet.rows), cells)
    return sheet, cells


def _read_csv(file: IO[bytes], stem: str) -> Sheet:
    content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise SourceError(f"the CSV {stem!r} is larger than {MOST_BYTES // MEGABYTE} MB")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SourceError(f"the CSV {stem!r} is not in UTF-8: save it as CSV UTF-8") from error
    if "\x00" in text:
        raise SourceError(f"the CSV {stem!r} holds bytes that are no text")
    sheet = Sheet(stem)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    cells = 0
    try:
        for cell_texts in reader:
            row = tuple(_marked(cell.strip() or None) for cell in cell_texts)
            if not sheet.header and not sheet.rows:
                sheet.header = _trimmed(row)
                if len(sheet.header) > MOST_COLUMNS:
                    raise SourceError(f"the CSV {stem!r} has more than {MOST_COLUMNS} columns")
                continue
            row = _trimmed(row)
            if row:
                # The line where the row ends, as an editor shows it: a quoted cell may span lines.
                sheet.rows.append((reader.line_num, row))
                cells += len(row)
                _within(len(sheet.rows), cells)
    except csv.Error as error:
        raise SourceError(f"the CSV {stem!r} is damaged at line {reader.line_num}: {error}") from error
    return sheet


def _delimiter(text: str) -> str:
    """Return what separates the header's names: a comma, or a semicolon or tab where a spreadsheet writes those."""
    header = text.partition("\n")[0]
    return max(",;\t", key=header.count)


def _marked(cell: Any) -> Any:
    """Return a cell, a formula or its error marked as such, an empty text as None."""
    if cell.__class__ is str:
        if cell[:1] == "=" and len(cell) > 1:
            return FormulaCell(cell)
        return FormulaCell(cell) if cell in ERRORS else cell or None
    if isinstance(cell, ArrayFormula):
        return FormulaCell(str(cell.text))
    if isinstance(cell, DataTableFormula):
        return FormulaCell("a data table")
    return cell


def _trimmed(row: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return a row without the empty cells at its end."""
    end = len(row)
    while end and row[end - 1] is None:
        end -= 1
    return row[:end]


def _within(rows: int, cells: int) -> None:
    if rows > MOST_ROWS:
        raise SourceError(f"there are more than {MOST_ROWS} rows: load them in parts")
    if cells > MOST_CELLS:
        raise SourceError(f"there are more than {MOST_CELLS} cells, empty ones included: load them in parts")
