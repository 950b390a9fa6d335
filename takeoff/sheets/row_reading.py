"""From a sheet's cells to the rows of a table, every problem gathered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from takeoff.sheets.agreeing import said_of_wholes
from takeoff.sheets.cells.columns import HeaderCell, read_header
from takeoff.sheets.cells.kinds import Reading
from takeoff.sheets.cells.problems import CellError, CellProblem, show_cell
from takeoff.sheets.files.sources import FormulaCell, Sheet
from takeoff.sheets.table_kinds import Row, Table
from takeoff.sites.models import Site
from takeoff.units.country import habit_of
from takeoff.units.money import minor_digits

Told = Callable[[int], None]
REMEMBERED = 5_000  # different texts that one column keeps the value of


@dataclass(frozen=True, slots=True)
class ReadTable:
    """The rows of a table whose cells are good, those with a bad cell, and what is wrong."""

    good: list[Row]
    bad: list[Row]
    problems: list[CellProblem]


def reading_of(site: Site) -> Reading:
    """Return how cells are read on a site that devices and pages have written plainly."""
    return Reading(unit=site.unit, tz=ZoneInfo(site.timezone), money_digits=minor_digits(site.currency))


def reading_here(site: Site) -> Reading:
    """Return how cells are read that people write on a site, in sheets or on pages: as its country writes them."""
    return replace(reading_of(site), habit=habit_of(site.country))


def read_table(table: Table, sheet: Sheet, reading: Reading, told: Told = lambda _rows: None) -> ReadTable:
    """Return the rows of a sheet, read by the table's columns; `told` hears how many rows are read."""
    headings, problems = read_header(sheet.name, table.columns, sheet.header, table.gone)
    result = ReadTable([], [], problems)
    if any(column.required and column.name not in {h.column.name for h in headings} for column in table.columns):
        return result
    width = len(sheet.header)
    unnamed = [index for index, cell in enumerate(sheet.header) if cell is None]
    columns = frozenset(heading.column.name for heading in headings)
    defaults = {column.name: column.on(reading.unit).default for column in table.columns}
    cells = [_Cells(heading, reading) for heading in headings]
    said = said_of_wholes(table, headings, sheet.rows)
    for count, (number, cells_of_row) in enumerate(sheet.rows, start=1):
        bad = False
        values = defaults.copy()
        raw = {}
        length = len(cells_of_row)
        for column in cells:
            cell = cells_of_row[column.index] if column.index < length else None
            if cell.__class__ is str and not cell.strip():
                cell = None
            if cell is None:
                if sheet.merged and (holder := sheet.merged_with(number, column.index)):
                    bad = True
                    expected = f"a cell of its own: it is merged with {holder}, so split the cells and fill in each"
                    problems.append(CellProblem(sheet.name, number, column.name, "a merged cell", expected))
                elif said and (told_cell := said.of(cells_of_row, column.name)) is not None:
                    try:
                        values[column.name] = column.read(told_cell)
                    except CellError:
                        bad = True  # told where the cell stands
                elif column.required:
                    bad = True
                    problems.append(CellProblem(sheet.name, number, column.name, "", f"a value: {column.help}"))
                continue
            raw[column.name] = cell
            try:
                values[column.name] = column.read(cell)
            except CellError as error:
                bad = True
                problems.append(CellProblem(sheet.name, number, column.name, show_cell(cell), error.expected))
        for index in (*unnamed, *range(width, length)):
            if index < length and cells_of_row[index] is not None:
                bad = True
                found = show_cell(cells_of_row[index])
                problems.append(
                    CellProblem(sheet.name, number, f"number {index + 1}", found, "a name in the header row")
                )
        row = Row(table, number, values, columns, raw)
        (result.bad if bad else result.good).append(row)
        if count % 1000 == 0:
            told(count)
    return result


class _Cells:
    """The cells of one column; a text that was read before is not read again."""

    __slots__ = ("_habit", "_kind", "_reader", "_texts", "help", "index", "name", "required")

    def __init__(self, heading: HeaderCell, reading: Reading) -> None:
        self.index = heading.index
        self.name = heading.column.name
        self.help = heading.column.help
        self.required = heading.column.required
        self._reader = heading.column.kind.reader(reading, heading.unit)
        self._kind, self._habit = heading.column.kind, reading.habit
        self._texts: dict[str | float, Any] = {}

    def read(self, cell: Any) -> Any:
        """Return the value of one cell. Raises CellError."""
        kind = cell.__class__
        if kind is str or kind is float:
            texts = self._texts
            if cell in texts:
                return texts[cell]
            value = self._reader(self._kind.plainly(cell, self._habit) if kind is str else cell)
            if len(texts) < REMEMBERED:
                texts[cell] = value
            return value
        if kind is FormulaCell:
            raise CellError("a value: formulas are not calculated, so paste the values")
        return self._reader(cell)


def repeated(rows: Sequence[Row]) -> list[tuple[Row, Row]]:
    """Return each row whose key stands in an earlier row, with that row."""
    first: dict[tuple[Any, ...], Row] = {}
    found = []
    for row in rows:
        key = tuple(row.values[column] for column in row.table.key)
        if key in first:
            found.append((row, first[key]))
        else:
            first[key] = row
    return found
