"""What can be said about a cell: a problem that stops the load, or a caution that a person confirms. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

SHOWN = 80  # characters of a cell that a message repeats


@dataclass(frozen=True, slots=True)
class CellProblem:
    """A cell, row or sheet that cannot be taken: where it stands, what was found and what was expected."""

    sheet: str
    row: int | None
    column: str
    found: str
    expected: str

    def __str__(self) -> str:
        where = cell_place(self)
        return f"{where and f'{where}: '}found {self.found or 'nothing'}, expected {self.expected}"


@dataclass(frozen=True, slots=True)
class Caution:
    """
    Something unlikely that can still be meant; `text` says why a person should look.

    asks : whether a person has to confirm it before the load is kept. What happened is never asked about, nor what a
    row says that changes nothing. key : the row's key; about : the run that it is about as a whole, if it is.
    """

    sheet: str
    row: int | None
    column: str
    found: str
    text: str
    asks: bool = True
    key: str = field(default="", compare=False)
    about: str = field(default="", compare=False)

    def __str__(self) -> str:
        where = cell_place(self)
        return f"{where and f'{where}: '}{self.found or 'nothing'} - {self.text}"


class CellError(ValueError):
    """A cell that its column cannot take; `expected` says what it can."""

    def __init__(self, expected: str) -> None:
        super().__init__(f"expected {expected}")
        self.expected = expected


def cell_place(remark: CellProblem | Caution) -> str:
    """Return where a problem or a caution stands: `runs, row 3, column tiers`."""
    parts = [remark.sheet] if remark.sheet else []
    if remark.row is not None:
        parts.append(f"row {remark.row}")
    if remark.column:
        parts.append(f"column {remark.column}")
    return ", ".join(parts)


def show_cell(value: Any) -> str:
    """Return a cell as a person sees it, cut to a length that fits a message."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        shown = value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ", timespec="minutes")
    elif isinstance(value, date | time):
        shown = value.isoformat()
    elif isinstance(value, float):
        shown = f"{Decimal(repr(value)).normalize():f}" if value.is_integer() else repr(value)
    else:
        shown = str(value).strip()
    return shown if len(shown) <= SHOWN else f"{shown[: SHOWN - 1]}…"
