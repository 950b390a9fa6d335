"""What tables and columns are, in words: for the documentation and for the comments of empty sheets."""

from __future__ import annotations

from decimal import Decimal

from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import ANY_NUMBER, Choices, Reference, Whole, YesNo, with_article
from takeoff.sheets.cells.measured import Length
from takeoff.sheets.table_kinds import DescriptionTable, Table


def kind_of(column: Column) -> str:
    """Return what a cell of the column holds: `one of ft, m`, `name of an item`, `length with its unit`."""
    kind = column.kind
    if isinstance(kind, Reference):
        return f"name of {with_article(kind.to)}"
    if isinstance(kind, Length) and kind.needs_unit:
        return "length with its unit"
    if isinstance(kind, Choices):
        return f"one or more of {', '.join(kind.values)}"
    if isinstance(kind, Whole):
        return f"whole number, {kind.least} or more" if kind.most == ANY_NUMBER else f"{kind.least} to {kind.most}"
    if kind.choices and not isinstance(kind, YesNo):
        return f"one of {', '.join(kind.choices)}"
    return kind.label


def default_of(column: Column) -> str:
    """Return what an empty cell means; `required` where it must not be empty."""
    if column.required:
        return "required"
    if column.metric and column.metric.default_help:
        return f"{column.default_help}; in metres {column.metric.default_help}"
    if column.default_help:
        return column.default_help
    if column.default is None or column.default == "":
        return "empty"
    if isinstance(column.default, bool):
        return "yes" if column.default else "no"
    if isinstance(column.default, Decimal):
        return f"{column.default.normalize():f}"
    return str(column.default)


def sort_of(table: Table) -> str:
    """Return how the rows of a table are taken."""
    key = " and ".join(f"`{column}`" for column in table.key)
    if not isinstance(table, DescriptionTable):
        return f"Events: each row is posted once, by its {key}; to correct one, {table.correction}."  # type: ignore[attr-defined]  # the only other sort
    told = f"Description by {key}; rows are created or changed, never removed."
    if table.replaces:
        told = f"Description by {key}; the rows replace the whole set of each `{table.replaces}` that they name."
    if table.whole:
        columns = " and ".join(f"`{column}`" for column in table.of_whole)
        told += (
            f" Of {columns} all rows of one `{table.whole}` say the same: a blank follows the rows that say it, and"
            " rows that contradict each other are refused."
        )
    return told


def _examples(column: Column) -> str:
    """Return the examples of a column, in feet and in metres."""
    return " or ".join(each for each in (column.example, column.metric.example if column.metric else "") if each)


def describe(table: Table) -> str:
    """Return a table as a section of docs/sheets.md."""
    lines = [f"### {table.name}", "", table.help, "", sort_of(table), ""]
    lines += ["| column | holds | where empty | what it is | example |", "|---|---|---|---|---|"]
    for column in table.columns:
        cells = (f"`{column.name}`", kind_of(column), default_of(column), column.help, _examples(column))
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"
