"""An act before it is posted: who did what, and how its moves follow from what is there."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import models

from kits.stock.books.balances import Books
from kits.stock.books.errors import LedgerError
from kits.stock.models import Posting
from takeoff.catalogue.models import Item
from takeoff.people.models import User
from takeoff.runs.models import Run
from takeoff.sites.models import Place
from takeoff.units.exact import to_ticks


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """One move of an act: `quantity` ticks of the item, above zero."""

    item: Item
    quantity: int
    source: Place
    target: Place
    lot: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """
    What a posting will be.

    content : what the person said, hashed, so that the same id sent twice is known; never what followed from the
    stock of the day. said_hash : the hash of it, where whoever read it from a sheet made one.
    items, places : all that its moves may touch. picks : whether it chooses from every good place.
    lots : the lots that its moves name; None when it chooses among lots or minds how long they can be used.
    steps : called with the books once everything is locked; returns the moves, or raises LedgerError.
    papers : called with the new posting, after `steps`; returns the rows that go with it, parents first.
    """

    event_id: str
    kind: Posting.Kind
    at: datetime
    content: Mapping[str, Any]
    items: tuple[Item, ...]
    places: tuple[Place, ...]
    steps: Callable[[Books], Iterable[PlannedMove]]
    picks: bool = False
    lots: tuple[str, ...] | None = None
    said_hash: str = ""
    by: str = ""
    recorded_by: User | None = None
    reason: str = ""
    document: str = ""
    lender: Run | None = None
    reverses: Posting | None = None
    papers: Callable[[Posting], list[models.Model]] | None = None

    @property
    def content_hash(self) -> str:
        """A hash of all that the person said."""
        if self.said_hash:
            return self.said_hash
        whole = {
            **self.content,
            "kind": str(self.kind),
            "at": self.at.timestamp(),
            "by": self.by,
            "reason": self.reason,
            "document": self.document,
        }
        text = json.dumps(whole, sort_keys=True, default=_as_text)
        return hashlib.sha256(text.encode()).hexdigest()


@dataclass(slots=True)
class Outcome:
    """What became of an act: its posting, new or known before, or why it was refused (even before it was an act)."""

    act: Act | None
    posting: Posting | None = None
    new: bool = False
    error: LedgerError | None = None
    steps: list[PlannedMove] = field(default_factory=list)


def ticks_of(quantity: Decimal | int | str, *, column: str = "quantity", zero: bool = False) -> int:
    """Return a quantity in ticks. Raises LedgerError below zero, at zero unless `zero`, for a fifth decimal place."""
    expected = "a number, zero or above" if zero else "a number above zero"
    try:
        ticks = to_ticks(quantity)
    except ValueError as error:
        raise LedgerError(str(error), column=column, found=str(quantity), expected=expected) from error
    if ticks < 0 or (ticks == 0 and not zero):
        raise LedgerError(f"{quantity} is not {expected}.", column=column, found=str(quantity), expected=expected)
    return ticks


def _as_text(value: Any) -> str:
    if isinstance(value, models.Model):
        return str(value)
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, datetime | date):
        return value.isoformat()
    raise TypeError(f"{value!r} cannot be part of what an act says")
