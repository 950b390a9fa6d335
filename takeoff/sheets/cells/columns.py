"""Columns of a table, and the header row that names them. Pure: no Django."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from takeoff.sheets.cells.kinds import Kind, one_of, plain_word
from takeoff.sheets.cells.problems import CellProblem, show_cell

_HEADER = re.compile(r"(?P<name>[^(\[]+?)\s*(?:[(\[]\s*(?P<unit>.+?)\s*[)\]])?\s*\*?\s*")


@dataclass(frozen=True, slots=True)
class InMetres:
    """What a column has instead on a site in metres; what is empty is the same there."""

    default: Any = None
    default_help: str = ""
    example: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """
    One column of a table.

    `default` is what an empty cell holds; `default_help` says so in the documentation, where the value alone does not.
    `metric` : what is different on a site in metres.
    """

    name: str
    kind: Kind
    help: str
    required: bool = False
    default: Any = None
    default_help: str = ""
    example: str = ""
    metric: InMetres | None = None

    def on(self, unit: str) -> Column:
        """Return the column as it is on a site in ft or m."""
        if unit != "m" or self.metric is None:
            return self
        other = self.metric
        default = self.default if other.default is None else other.default
        told = other.default_help or self.default_help
        return replace(self, default=default, default_help=told, example=other.example or self.example, metric=None)


@dataclass(frozen=True, slots=True)
class HeaderCell:
    """A column that a sheet has: which one, where, and the unit that its header names."""

    column: Column
    index: int
    unit: str | None


def read_header(
    sheet: str, columns: Sequence[Column], cells: Sequence[Any], gone: Mapping[str, str] = MappingProxyType({})
) -> tuple[list[HeaderCell], list[CellProblem]]:
    """
    Return the columns that a header row names, in any order, and what is wrong with it.

    Case, spaces, hyphens and underscores do not count; a unit may follow in brackets: `Length (in)`.
    gone : what is expected in place of columns that a table had once.
    """
    if all(cell is None for cell in cells):
        expected = f"the names of the columns: {', '.join(column.name for column in columns)}"
        return [], [CellProblem(sheet, 1, "", "", expected)]
    known = {plain_word(column.name): column for column in columns}
    instead = {plain_word(name): expected for name, expected in gone.items()}
    headings: dict[str, HeaderCell] = {}
    problems = []
    for index, cell in enumerate(cells):
        text = show_cell(cell)
        if not text:
            continue
        match = _HEADER.fullmatch(text)
        column = known.get(plain_word(match["name"])) if match else None
        if match is None or column is None:
            names = [column.name for column in columns]
            expected = instead.get(plain_word(text)) or f"a column of this table: {one_of(names, text)}"
            problems.append(CellProblem(sheet, 1, text, text, expected))
            continue
        if column.name in headings:
            problems.append(CellProblem(sheet, 1, column.name, text, "every column once"))
            continue
        unit = None
        if match["unit"]:
            unit = column.kind.header_unit(match["unit"])
            if unit is None:
                problems.append(
                    CellProblem(sheet, 1, column.name, text, f"{column.name}, with a unit of its kind or none")
                )
        headings[column.name] = HeaderCell(column, index, unit)
    problems += [
        CellProblem(sheet, 1, column.name, "", f"a column {column.name}: {column.help}")
        for column in columns
        if column.required and column.name not in headings
    ]
    return list(headings.values()), problems
