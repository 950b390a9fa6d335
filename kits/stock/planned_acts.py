"""An act before it is posted: who did what, and how its moves follow from what is there."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db import models

from kits.stock.books.balances import Books, Key, LackingError, LastDay, Moment
from kits.stock.books.errors import CannotBeError, LedgerError
from kits.stock.models import Posting
from takeoff.catalogue.models import Item
from takeoff.sites.models import Place
from takeoff.units.exact import to_ticks

# What happened at the same moment: what came, what was counted, what was handed out, what came back, the rest.
RANKS = {
    Posting.Kind.RECEIPT: 1,
    Posting.Kind.REPLACED: 1,  # a bin counted at the moment of a count again has seen neither
    Posting.Kind.COUNT: 2,
    Posting.Kind.ISSUE: 3,
    Posting.Kind.RETURN: 4,
}
LAST = 5


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """One move of an act: `quantity` ticks of the item, above zero."""

    item: Item
    quantity: int
    source: Place
    target: Place
    lot: str = ""

    @property
    def keys(self) -> tuple[int, str, int, int, int]:
        """The move as the books take it: item, lot, source, target, quantity."""
        return self.item.pk, self.lot, self.source.pk, self.target.pk, self.quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """
    A posting that is to be, and how its moves follow.

    items, places : all that its moves may touch. picks : whether it chooses from every good place. lots : the lots that
    its moves name; None when it chooses among lots or minds how long they can be used. steps : called with the books
    once everything is locked; returns the moves, or raises LedgerError. papers : called with the posting, after
    `steps`; returns the rows that go with it, parents first. then : called once its moves are made; returns acts that
    happen with it, or it does not happen either. noted : called with the outcome once it has happened, with None when
    that is taken back. lacking : returns the refusal where less is there than it takes; None for the one that tells
    what is there. beyond : the posting in the books of another site, which owns the items of some moves: both books
    move, or neither.
    """

    posting: Posting
    items: tuple[Item, ...]
    places: tuple[Place, ...]
    steps: Callable[[Books], Iterable[PlannedMove]]
    picks: bool = False
    lots: tuple[str, ...] | None = None
    lacking: Callable[[LackingError], LedgerError] | None = None
    beyond: Posting | None = None
    papers: Callable[[Posting], list[models.Model]] | None = None
    then: Callable[[Outcome], Iterable[Act]] | None = None
    noted: Callable[[Outcome | None], None] | None = None

    @property
    def moment(self) -> Moment:
        """When it took effect; what takes an act back takes effect when that did: it never happened."""
        undone = self.posting.reverses if self.posting.kind == Posting.Kind.REVERSAL else None
        posting = undone or self.posting
        return moment_of(posting.at, posting.kind, posting.event_id)


def posting_with(act: Posting, **own: object) -> Posting:
    """Return a posting that is made with the one of an act: alike but for what is its `own`."""
    alike = ("site_id", "kind", "content_hash", "at", "recorded_at", "by", "recorded_by_id", "reason", "document")
    return Posting(**({name: getattr(act, name) for name in alike} | own))


def moment_of(at: datetime, kind: str, event_id: str) -> Moment:
    """Return what orders acts: when they happened, among equals by kind and id."""
    return at, RANKS.get(Posting.Kind(kind), LAST), event_id


@dataclass(slots=True)
class Outcome:
    """
    What became of an act: done, or why it was refused.

    steps : its moves. told : what it says of last usable days. restored : by the id of a count that it came after, the
    moves that leave what was counted as it was; done : all of them in the order in which they were made.
    """

    act: Act
    error: LedgerError | None = None
    steps: list[PlannedMove] = field(default_factory=list)
    told: list[LastDay] = field(default_factory=list)
    restored: dict[str, list[PlannedMove]] = field(default_factory=dict)
    done: list[PlannedMove] = field(default_factory=list)
    followers: list[Outcome] = field(default_factory=list)

    @property
    def together(self) -> list[Outcome]:
        """The outcome with those of the acts that happen with it."""
        return [self, *self.followers]

    def takes(self, key: Key) -> bool:
        """Return whether less of it lies at a place, item and lot for this act."""
        place, item, lot = key
        done = [move for outcome in self.together for move in outcome.done]
        mine = [move for move in done if move.item.pk == item and move.lot == lot]
        put_in = sum(move.quantity for move in mine if move.target.pk == place)
        return put_in < sum(move.quantity for move in mine if move.source.pk == place)


def ticks_of(quantity: Decimal | int | str, *, column: str = "quantity", zero: bool = False) -> int:
    """Return a quantity in ticks. Raises LedgerError below zero, at zero unless `zero`, for a fifth decimal place."""
    expected = "a number, zero or above" if zero else "a number above zero"
    try:
        ticks = to_ticks(quantity)
    except ValueError as error:
        raise CannotBeError(str(error), column=column, found=str(quantity), expected=expected) from error
    if ticks < 0 or (ticks == 0 and not zero):
        raise CannotBeError(f"{quantity} is not {expected}.", column=column, found=str(quantity), expected=expected)
    return ticks
