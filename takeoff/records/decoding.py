"""From the cells of a record, as a page or a phone sends them, to the row of its kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Model

from takeoff.records.record_kinds import RecordKind, kinds
from takeoff.sheets.cells.kinds import Reading, one_of
from takeoff.sheets.files.sources import Sheet
from takeoff.sheets.row_reading import read_table, reading_of
from takeoff.sheets.table_kinds import Row
from takeoff.sites.models import Site

FIRST = 2  # the number of the first row below a header


@dataclass(frozen=True, slots=True)
class Sent:
    """
    A record as it was sent: its kind and its cells by column.

    number : in the order in which the device made its records. after : the ids that it hangs on.
    """

    kind: str
    row: Mapping[str, Any]
    number: int | None = None
    after: tuple[str, ...] = ()


@dataclass(slots=True)
class Decoded:
    """A record whose cells are read, or (`row` is None) what is wrong with it."""

    sent: Sent
    id: str
    kind: RecordKind
    row: Row | None = None
    said: tuple[str, ...] = ()
    column: str = ""


def decode(site: Site, sent: Sequence[Sent]) -> list[Decoded]:
    """Return each record read by the columns of its kind, in the given order; rows are numbered by that order."""
    reading = reading_of(site)
    found = []
    by_header: dict[tuple[str, ...], list[int]] = {}
    for number, one in enumerate(sent):
        kind = kinds().get(one.kind)
        id_ = one.row.get("id")
        found.append(Decoded(one, id_ if isinstance(id_, str) else "", kind or _any_kind()))
        if kind is None:
            found[-1].said = (f"{one.kind} is no kind of record; expected {one_of(kinds(), one.kind)}.",)
            found[-1].column = "kind"
        else:
            by_header.setdefault((one.kind, *one.row), []).append(number)
    for (name, *header), numbers in by_header.items():
        rows = [(number + FIRST, tuple(_cell(sent[number].row[column]) for column in header)) for number in numbers]
        read = read_table(kinds()[name], Sheet(name, tuple(header), rows), reading)
        headless = [problem for problem in read.problems if problem.row == 1]
        for row in read.good if not headless else ():
            found[row.number - FIRST].row = row
        for number in numbers:
            if found[number].row is None:
                mine = headless or [problem for problem in read.problems if problem.row == number + FIRST]
                found[number].said = tuple(f"Expected {problem.expected}." for problem in mine)
                found[number].column = mine[0].column
    return found


def read_again(kind: RecordKind, written: Mapping[str, str], reading: Reading, *, number: int) -> Row:
    """Return the row of a record that was stored."""
    sheet = Sheet(kind.name, tuple(written), [(number, tuple(written.values()))])
    (row,) = read_table(kind, sheet, reading).good
    return row


def _any_kind() -> RecordKind:
    return next(iter(kinds().values()))


def _cell(value: Any) -> Any:
    """Return a cell as a sheet has it: code may give a thing in place of its name, and exact numbers."""
    if isinstance(value, Model):
        return str(value)
    return f"{value.normalize():f}" if isinstance(value, Decimal) else value
