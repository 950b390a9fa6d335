"""Tables whose rows are parts of something: what the rows say of the whole must agree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from takeoff.sheets.tables import Row

if TYPE_CHECKING:
    from takeoff.sheets.context import LoadContext


def first_rows(context: LoadContext, rows: Sequence[Row], whole: str, columns: Sequence[str]) -> dict[str, Row]:
    """
    Return the first row of each whole, by its name, in sheet order.

    whole : the column that names it. columns : what every row of a whole must say alike; a row that says otherwise is
    a problem.
    """
    first: dict[str, Row] = {}
    for row in rows:
        head = first.setdefault(row[whole], row)
        for column in columns:
            if row[column] != head[column]:
                said = head[column] if head[column] not in (None, "") else "nothing"
                context.problem(row, column, expected=f"{said}, as row {head.number} says of {whole} {row[whole]}")
    return first


def told_change(column: str, old: Any, new: Any) -> str:
    """Return a changed value as `revision: A → B`."""
    before, after = ("none" if value in (None, "") else str(value) for value in (old, new))
    return f"{column}: {before} → {after}"
