"""
The books of stock in memory: what lies where, what may be taken, first expired first out.

Places and items are named by whole numbers, quantities are whole ticks of the item's unit
(`takeoff/units/exact.py`). Nothing here reads a database: the services fill the books, let acts happen in them one
after the other, and write down what changed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from math import ceil

from kits.stock.books.pieces import OWN, Piece, covered

Key = tuple[int, int, str]  # place, item, lot
Moment = tuple[datetime, int, str]  # when, among equals by rank and id


@dataclass(frozen=True, slots=True)
class Lying:
    """A quantity [ticks of pieces] of a lot at a place; `expires` is its last usable day, None when it keeps."""

    place: int
    lot: str
    quantity: int
    expires: date | None = None
    piece: Piece = OWN


@dataclass(frozen=True, slots=True)
class LastDay:
    """What an act says of a lot's last usable day, and what was known before; None where no day is."""

    item: int
    lot: str
    before: date | None
    day: date | None


class LackingError(ValueError):
    """
    Less is there than was asked for.

    asked [ticks]; there : what could have been taken; expired : what lies there past its last usable day. pieces : the
    pieces in which it was asked, of the lot that was named; None where it was asked in the item's own unit.
    """

    def __init__(
        self,
        *,
        item: int,
        asked: int,
        there: Sequence[Lying],
        expired: Sequence[Lying] = (),
        pieces: Piece | None = None,
    ) -> None:
        self.found = sum(one.quantity if pieces else covered(one.quantity, one.piece.each) for one in there)
        super().__init__(f"{asked} asked, {self.found} there")
        self.item = item
        self.asked = asked
        self.pieces = pieces
        self.there = tuple(there)
        self.expired = tuple(expired)


class ExpiryDiffersError(ValueError):
    """A lot whose last usable day was told differently before."""

    def __init__(self, *, item: int, lot: str, known: date, told: date) -> None:
        super().__init__(f"lot {lot} can be used to {known}, not {told}")
        self.item = item
        self.lot = lot
        self.known = known
        self.told = told


class Books:
    """
    Balances by place, item and lot, changed only by `move`.

    now : when the moves being made took effect. told : what the act that is happening says of last usable days.
    loose : places may be below zero for the time being, and what is picked from one place need not be there yet.
    shares : by the id of a count of a gang box, the places over which it shares what is gone, each with its weight.
    given : by the id of such a count and a place, what it gave there, below zero what it took from there. [ticks]
    """

    def __init__(
        self,
        balances: Mapping[Key, int] | None = None,
        *,
        far_ends: Iterable[int] = (),
        expires: Mapping[tuple[int, str], date] | None = None,
        journal: Iterable[tuple[Key, Moment, int]] = (),
        counts: Iterable[tuple[Key, Moment]] = (),
        pieces: Mapping[tuple[int, str], Piece] | None = None,
    ) -> None:
        """
        Open the books.

        balances [ticks]; far_ends : places that may be negative, where goods come from or go to; expires : last
        usable day by item and lot; journal : what was put in or (below zero) taken out and when, as far back as a count
        may look; counts : when what lies somewhere was counted; pieces : how lots lie that came in place of the item.
        """
        # By item, then place, then lot: what is picked is one item from many places.
        self._lots: dict[int, dict[int, dict[str, int]]] = {}
        for (place, item, lot), quantity in (balances or {}).items():
            self._lots.setdefault(item, {}).setdefault(place, {})[lot] = quantity
        self._far_ends = set(far_ends)
        self._expires = dict(expires or {})
        self._pieces = dict(pieces or {})
        self._journal: dict[Key, list[tuple[Moment, int]]] = {}
        for key, moment, quantity in journal:
            self._journal.setdefault(key, []).append((moment, quantity))
        self._counts: dict[Key, set[Moment]] = {}
        for key, moment in counts:
            self._counts.setdefault(key, set()).add(moment)
        self._noted: list[tuple[Moment | None, Key, Moment, bool]] = []
        self.now: Moment | None = None
        self.loose = False
        self.changed: dict[Key, int] = {}
        self.told: list[LastDay] = []
        self.new_pieces: dict[tuple[int, str], Piece] = {}
        self.shares: dict[str, Mapping[int, int]] = {}
        self.given: Counter[tuple[str, int]] = Counter()

    def at(self, place: int, item: int, lot: str) -> int:
        """Return what lies there [ticks]."""
        return self._lots.get(item, {}).get(place, {}).get(lot, 0)

    def as_of(self, place: int, item: int, lot: str, moment: Moment) -> int:
        """Return what lay there at a moment, by all that is known today. [ticks]"""
        later = self._journal.get((place, item, lot), ())
        return self.at(place, item, lot) - sum(quantity for when, quantity in later if when > moment)

    def counted(self, place: int, item: int, lot: str, moment: Moment) -> None:
        """Note that what lies there was counted at a moment."""
        self._counts.setdefault((place, item, lot), set()).add(moment)
        self._noted.append((self.now, (place, item, lot), moment, True))

    def never_counted(self, place: int, item: int, lot: str, moment: Moment) -> None:
        """Forget a count that is taken back."""
        self._counts.setdefault((place, item, lot), set()).discard(moment)
        self._noted.append((self.now, (place, item, lot), moment, False))

    def next_count(self, place: int, item: int, lot: str) -> Moment | None:
        """Return the first count of what lies there after `now`."""
        now, counts = self.now, self._counts.get((place, item, lot))
        return min((when for when in counts if when > now), default=None) if now and counts else None

    def below_zero(self) -> set[Key]:
        """Return where real places hold less than nothing."""
        return {key for key, quantity in self.changed.items() if quantity < 0 and key[0] not in self._far_ends}

    def lying(self, item: int, places: Iterable[int]) -> list[Lying]:
        """
        Return what lies at `places` of the item, lot by lot, nothing left out but what is not there.

        What was counted after `now` is told as it lay before: the count is not moved by what happened earlier.
        """
        of_item = self._lots.get(item, {})
        found = []
        for place in places:
            for lot, quantity in of_item.get(place, {}).items():
                if self.now and self.next_count(place, item, lot):
                    quantity = self.as_of(place, item, lot, self.now)
                if quantity > 0:
                    found.append(Lying(place, lot, quantity, self._expires.get((item, lot)), self.piece(item, lot)))
        return found

    def has_lots(self, item: int) -> bool:
        """Return whether anything of the item is known by lot."""
        return any(lot for lots in self._lots.get(item, {}).values() for lot in lots)

    def knows_lot(self, item: int, lot: str) -> bool:
        """Return whether anything of a lot lies anywhere, or its last usable day was told."""
        return (item, lot) in self._expires or any(lot in lots for lots in self._lots.get(item, {}).values())

    def expires(self, item: int, lot: str) -> date | None:
        """Return a lot's last usable day, None when it keeps or was never told."""
        return self._expires.get((item, lot))

    def tell_expiry(self, item: int, lot: str, expires: date) -> None:
        """Note a lot's last usable day. Raises ExpiryDiffersError when another was told before."""
        known = self._expires.get((item, lot), expires)
        if known != expires:
            raise ExpiryDiffersError(item=item, lot=lot, known=known, told=expires)
        self.set_expiry(item, lot, expires)

    def set_expiry(self, item: int, lot: str, expires: date | None) -> None:
        """Let a day be a lot's last usable one, whatever was told before; None when nobody says one any more."""
        self.told.append(LastDay(item, lot, self._expires.get((item, lot)), expires))
        self._keep_expiry(item, lot, expires)

    def piece(self, item: int, lot: str) -> Piece:
        """Return how a lot lies and is counted."""
        return self._pieces.get((item, lot), OWN)

    def tell_piece(self, item: int, lot: str, piece: Piece) -> None:
        """Let a lot lie and be counted so. It is written down once anything of the lot moves."""
        if self.piece(item, lot) != piece:
            self._pieces[item, lot] = self.new_pieces[item, lot] = piece

    def forget(self, told: Iterable[LastDay]) -> None:
        """Take back what an act said of last usable days."""
        for said in reversed(list(told)):
            self._keep_expiry(said.item, said.lot, said.before)

    def move(self, item: int, lot: str, source: int, target: int, quantity: int) -> None:
        """
        Take `quantity` [ticks, above zero] from `source` to `target`.

        Raises LackingError, and changes nothing, when a real place would fall below zero.
        """
        if quantity <= 0:
            raise ValueError(f"a move takes more than nothing, got {quantity}")
        there = self.at(source, item, lot)
        if there < quantity and source not in self._far_ends and not self.loose:
            same = [lying for lying in self.lying(item, [source]) if lying.lot == lot]
            raise LackingError(item=item, asked=quantity, there=same, pieces=self.piece(item, lot))
        self._add(source, item, lot, -quantity)
        self._add(target, item, lot, quantity)

    def undo(self, moves: Iterable[tuple[int, str, int, int, int]]) -> None:
        """Take back all of the act that `now` is the moment of: its `moves`, and what it said of counts."""
        for item, lot, source, target, quantity in reversed(list(moves)):
            self._add(source, item, lot, quantity)
            self._add(target, item, lot, -quantity)
        for when, key, moment, added in self._noted:
            if when == self.now:
                self._counts[key].discard(moment) if added else self._counts[key].add(moment)
        self._noted = [note for note in self._noted if note[0] != self.now]

    def pick(
        self,
        item: int,
        groups: Sequence[Collection[int]],
        quantity: int,
        *,
        on: date | None = None,
        lot: str = "",
        last_first: bool = False,
        turn: Callable[[str], int | None] = lambda _lot: 0,
    ) -> list[Lying]:
        """
        Choose what to take: the first group of places first, within a group first expired first out.

        Among equals by lot, then in the order of the places.
        quantity [ticks, above zero] : in the item's own unit, or in pieces of the lot that is named. on : the day on
        which it must still be usable, None when expired lots serve too. lot : this lot only; blank for any. turn : the
        place of a lot among those that expire alike, None for one never taken. last_first : last expired first, for
        what comes back unused.
        Returns pieces that cover `quantity`, of what came in the item's place whole ones, up; the books stay as they
        are. Raises LackingError with what there is, and with what lies there expired.
        """
        if quantity <= 0:
            raise ValueError(f"more than nothing must be picked, got {quantity}")
        usable: list[Lying] = []
        expired: list[Lying] = []
        chosen: list[Lying] = []
        open_: Fraction | int = quantity
        for places in groups:
            lying_there = self.lying(item, places)
            turns = {one.lot: turn(one.lot) for one in lying_there}
            found = [one for one in lying_there if lot in ("", one.lot) and turns[one.lot] is not None]
            found.sort(key=lambda one: (one.expires or date.max, turns[one.lot], one.lot), reverse=last_first)
            for lying in found:
                if on is not None and lying.expires is not None and lying.expires < on:
                    expired.append(lying)
                    continue
                usable.append(lying)
                piece = OWN if lot else lying.piece
                taken = min(piece.covering(open_), lying.quantity)
                open_ -= taken if piece is OWN else taken * piece.each
                chosen.append(lying if taken == lying.quantity else replace(lying, quantity=taken))
                if open_ <= 0:
                    return chosen
        only = next(iter(groups[0])) if len(groups) == 1 and len(groups[0]) == 1 else None
        if self.loose and only is not None and not expired:
            return [*chosen, Lying(only, lot, ceil(open_))]
        pieces = self.piece(item, lot) if lot else None
        raise LackingError(item=item, asked=quantity, there=usable, expired=expired, pieces=pieces)

    def _keep_expiry(self, item: int, lot: str, expires: date | None) -> None:
        if expires is None:
            self._expires.pop((item, lot), None)
        else:
            self._expires[item, lot] = expires

    def _add(self, place: int, item: int, lot: str, quantity: int) -> None:
        total = self.at(place, item, lot) + quantity
        self._lots.setdefault(item, {}).setdefault(place, {})[lot] = total
        self.changed[place, item, lot] = total
        if self.now is not None:
            self._journal.setdefault((place, item, lot), []).append((self.now, quantity))
