"""
How to write a table.

A table is one class in `<room>/sheets.py` of the floor that owns it, registered once:

    class StagesTable(DescriptionTable):
        name = "stages"
        order = 110
        help = "When each stage of a run is planned and when it was done."
        columns = (
            Column("run", Reference(to="run"), "The run.", required=True),
            Column("stage", Choice(tuple(StageName.values)), "The stage.", required=True),
            Column("planned", Day(), "When it is to be done.", default_help="undated"),
        )
        key = ("run", "stage")

        def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
            ...

    register(StagesTable())

Every module `<app>.<room>.sheets` is imported by its app when Django starts (`registry.discover`).

**What a hook gets.** `row["run"]` is the value as its kind documents it: a Decimal of millimetres for `Length`, the
model instance for `Reference`. An empty cell or a column that the sheet leaves out holds the column's `default`.
`row.gives("planned")` says whether the sheet has the column at all: a record that exists keeps what a sheet without
the column does not mention, while an empty cell sets the default (the members of a set that is replaced always take
the default). Rows with a bad cell, with a name that nobody knows
or with a key that repeats never arrive: they are reported, and the load is rolled back at its end.

**Sorts of tables.**

* `DescriptionTable`: rows are matched by `key` and created or changed, never deleted. `save(context, rows)` is called
  once with all rows. `matching.match` works out what is new, changed and unchanged and counts it; `saving.save_matched`
  writes it. A table whose rows replace the whole set of a parent (sections of a run, lines of a kit) sets
  `replaces = "run"`, and `matching.match` also works out what is removed; refuse there what has a history
  (`context.problem(row, "conductor", expected=...)`). A table whose rows repeat what holds for a whole (the supplier of
  an order) sets `whole = "order"` and `of_whole = ("supplier",)`: a blank follows the rows of the whole that say it.
* `EventTable`: what happened. Its kinds are declared in `<room>/records.py`, see `takeoff/records/record_kinds.py`.

**What a hook may do.** Write through services only; the whole load is one transaction, and any problem rolls it back.
Keep the number of queries constant: `context.lookup("item")` is a map of every item by its name, read once;
`context.remember("item", code, item)` adds what a hook created, so that later tables find it (always after saving).
`context.problem(row, column, expected=...)` refuses a cell, `context.caution(row, column, text)` asks for a second
look, `context.count(table, state, key, details)` is called by `matching.match`.
A kind of thing that others may name is registered beside the table: `register_reference("kit", load_kits)`, a function
from a site to a dict of instances by name; `names = ("kit",)` on the table says that its rows bring such things into
being, the named column holding the name, so that a name whose own row is bad is not reported a second time.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, ClassVar

from django.db.models import Model

from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.problems import show_cell
from takeoff.units.measures import Measure

if TYPE_CHECKING:
    from takeoff.sheets.context import LoadContext


@dataclass(slots=True, eq=False)
class Row:
    """One row of a table: its values by column, where it stands, and which columns the sheet has."""

    table: Table
    number: int
    values: dict[str, Any]
    columns: frozenset[str]
    raw: dict[str, Any] = field(default_factory=dict)
    said: dict[str, Any] = field(default_factory=dict)  # of an event: its values with names in place of things

    def __getitem__(self, column: str) -> Any:
        return self.values[column]

    def gives(self, column: str) -> bool:
        """Return whether the sheet has the column, filled or not."""
        return column in self.columns

    @property
    def key(self) -> tuple[str, ...]:
        """The row's key as text, for messages and counts: lengths as they were written, what is empty left out."""
        named = ((column, self.values[column]) for column in self.table.key)
        return tuple(
            show_cell(self.raw[column]) if isinstance(value, Decimal) and column in self.raw else plain_text(value)
            for column, value in named
            if value not in (None, "")
        )


class Table(ABC):
    """What every table has. `order` is where it is applied among the descriptions and shown in the documentation."""

    name: ClassVar[str]
    order: ClassVar[int]
    help: ClassVar[str]
    columns: ClassVar[tuple[Column, ...]]
    key: ClassVar[tuple[str, ...]]
    # Kinds of things that rows of this table bring into being, each with the column that names them.
    names: ClassVar[Mapping[str, str]] = {}
    # Columns that it had once, and what stands in their place.
    gone: ClassVar[Mapping[str, str]] = {}

    @property
    def by_name(self) -> dict[str, Column]:
        """The columns by name."""
        return {column.name: column for column in self.columns}


class DescriptionTable(Table):
    """A table that says how things are: rows are created or changed by their key."""

    # The column whose whole set the rows replace; empty: rows stand for themselves and are never removed.
    replaces: ClassVar[str] = ""
    # Where several rows are parts of one thing: the column that names it, and those that say something of all of it.
    whole: ClassVar[str] = ""
    of_whole: ClassVar[tuple[str, ...]] = ()

    @abstractmethod
    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change what the rows describe, through services, and count it."""


class EventTable(Table):
    """A table of what happened: every row is a record with an id of its own, kept once."""

    key = ("id",)
    # The kind of thing that its rows make and others name, such as "shipment": they are kept before others are read.
    founds: ClassVar[str] = ""


def plain_text(value: Any) -> str:
    """Return a value as text that does not depend on how the cell was typed."""
    if isinstance(value, Model):
        return str(value)
    if isinstance(value, Measure):
        return f"{value.value.normalize():f} {value.unit}"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, date | datetime):
        return value.isoformat()
    return str(value)
