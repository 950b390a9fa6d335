"""Tables whose rows are parts of something: a blank follows what another row says of the whole, and all agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from takeoff.sheets.cells.columns import HeaderCell
from takeoff.sheets.cells.problems import show_cell
from takeoff.sheets.table_kinds import DescriptionTable, Row, Table

if TYPE_CHECKING:
    from takeoff.sheets.context import LoadContext


Cells = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class SaidOfWholes:
    """The first cell that is filled in each column that tells of a whole, by column and the whole's name."""

    index: int
    cells: dict[tuple[str, str], Any]

    def of(self, row: Cells, column: str) -> Any:
        """Return the cell that a blank of this row follows, None where no row says anything."""
        return self.cells.get((column, _cell(row, self.index)))


def said_of_wholes(
    table: Table, headings: Sequence[HeaderCell], rows: Sequence[tuple[int, Cells]]
) -> SaidOfWholes | None:
    """Return what the rows of a sheet say of the wholes that they are parts of, None where they are no parts."""
    if not isinstance(table, DescriptionTable) or not table.whole:
        return None
    index = next(heading.index for heading in headings if heading.column.name == table.whole)
    telling = [heading for heading in headings if heading.column.name in table.of_whole]
    cells: dict[tuple[str, str], Any] = {}
    for _, row in rows:
        whole = _cell(row, index)
        for heading in telling:
            if _cell(row, heading.index):
                cells.setdefault((heading.column.name, whole), row[heading.index])
    return SaidOfWholes(index, cells)


def _cell(row: Cells, index: int) -> str:
    return show_cell(row[index]) if index < len(row) else ""


def first_rows(context: LoadContext, rows: Sequence[Row]) -> dict[str, Row]:
    """Return the first row of each whole, by its name, in sheet order. A row that contradicts it is a problem."""
    first: dict[str, Row] = {}
    said: dict[tuple[str, str], Row] = {}
    for row in rows:
        table = row.table
        assert isinstance(table, DescriptionTable)
        whole = row[table.whole]
        head = first.setdefault(whole, row)
        for column in table.of_whole:
            if column in row.raw:
                said.setdefault((column, whole), row)
            if row[column] != head[column]:
                teller = said[column, whole]
                expected = f"{head[column]}, as row {teller.number} says of {table.whole} {whole}"
                context.problem(row, column, expected=expected)
    return first


def told_change(column: str, old: Any, new: Any) -> str:
    """Return a changed value as `revision: A → B`."""
    before, after = ("none" if value in (None, "") else str(value) for value in (old, new))
    return f"{column}: {before} → {after}"
