"""
The books of stock in memory: what lies where, what may be taken, first expired first out.

Places and items are named by whole numbers, quantities are whole ticks of the item's unit
(`takeoff/units/exact.py`). Nothing here reads a database: the services fill the books, let acts happen in them one
after the other, and write down what changed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

Key = tuple[int, int, str]  # place, item, lot


@dataclass(frozen=True, slots=True)
class Lying:
    """A quantity [ticks] of a lot at a place; `expires` is its last usable day, None when it keeps."""

    place: int
    lot: str
    quantity: int
    expires: date | None = None


class LackingError(ValueError):
    """
    Less is there than was asked for.

    asked [ticks]; there : what could have been taken; expired : what lies there past its last usable day.
    """

    def __init__(self, *, item: int, asked: int, there: Sequence[Lying], expired: Sequence[Lying] = ()) -> None:
        super().__init__(f"{asked} asked, {sum(lying.quantity for lying in there)} there")
        self.item = item
        self.asked = asked
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
    """Balances by place, item and lot, changed only by `move`."""

    def __init__(
        self,
        balances: Mapping[Key, int] | None = None,
        *,
        far_ends: Iterable[int] = (),
        expires: Mapping[tuple[int, str], date] | None = None,
    ) -> None:
        """
        Open the books.

        balances [ticks]; far_ends : places that may be negative, where goods come from or go to; expires : last
        usable day by item and lot.
        """
        # By item, then place, then lot: what is picked is one item from many places.
        self._lots: dict[int, dict[int, dict[str, int]]] = {}
        for (place, item, lot), quantity in (balances or {}).items():
            self._lots.setdefault(item, {}).setdefault(place, {})[lot] = quantity
        self._far_ends = set(far_ends)
        self._expires = dict(expires or {})
        self.changed: dict[Key, int] = {}
        self.new_expiries: dict[tuple[int, str], date] = {}

    def at(self, place: int, item: int, lot: str) -> int:
        """Return what lies there [ticks]."""
        return self._lots.get(item, {}).get(place, {}).get(lot, 0)

    def lying(self, item: int, places: Iterable[int]) -> list[Lying]:
        """Return what lies at `places` of the item, lot by lot, nothing left out but what is not there."""
        of_item = self._lots.get(item, {})
        return [
            Lying(place, lot, quantity, self._expires.get((item, lot)))
            for place in places
            if place in of_item
            for lot, quantity in of_item[place].items()
            if quantity > 0
        ]

    def expires(self, item: int, lot: str) -> date | None:
        """Return a lot's last usable day, None when it keeps or was never told."""
        return self._expires.get((item, lot))

    def tell_expiry(self, item: int, lot: str, expires: date) -> None:
        """Note a lot's last usable day. Raises ExpiryDiffersError when another was told before."""
        known = self._expires.setdefault((item, lot), expires)
        if known != expires:
            raise ExpiryDiffersError(item=item, lot=lot, known=known, told=expires)
        self.new_expiries[item, lot] = expires

    def move(self, item: int, lot: str, source: int, target: int, quantity: int) -> None:
        """
        Take `quantity` [ticks, above zero] from `source` to `target`.

        Raises LackingError, and changes nothing, when a real place would fall below zero.
        """
        if quantity <= 0:
            raise ValueError(f"a move takes more than nothing, got {quantity}")
        there = self.at(source, item, lot)
        if there < quantity and source not in self._far_ends:
            same = [lying for lying in self.lying(item, [source]) if lying.lot == lot]
            raise LackingError(item=item, asked=quantity, there=same)
        self._set(source, item, lot, there - quantity)
        self._set(target, item, lot, self.at(target, item, lot) + quantity)

    def undo(self, moves: Iterable[tuple[int, str, int, int, int]]) -> None:
        """Take back `moves` (item, lot, source, target, quantity), given in the order in which they were made."""
        for item, lot, source, target, quantity in reversed(list(moves)):
            self._set(source, item, lot, self.at(source, item, lot) + quantity)
            self._set(target, item, lot, self.at(target, item, lot) - quantity)

    def pick(
        self,
        item: int,
        groups: Sequence[Collection[int]],
        quantity: int,
        *,
        on: date | None = None,
        lot: str = "",
        last_first: bool = False,
    ) -> list[Lying]:
        """
        Choose what to take: the first group of places first, within a group first expired first out.

        Among equals by lot, then in the order of the places.
        quantity [ticks, above zero]. on : the day on which it must still be usable, None when expired lots serve too.
        lot : this lot only; blank for any. last_first : last expired first, for what comes back unused.
        Returns quantities that add up to `quantity`; the books stay as they are. Raises LackingError with what there
        is, and with what lies there expired.
        """
        if quantity <= 0:
            raise ValueError(f"more than nothing must be picked, got {quantity}")
        usable: list[Lying] = []
        expired: list[Lying] = []
        chosen: list[Lying] = []
        open_ = quantity
        for places in groups:
            found = [lying for lying in self.lying(item, places) if lot in ("", lying.lot)]
            found.sort(key=lambda lying: (lying.expires or date.max, lying.lot), reverse=last_first)
            for lying in found:
                if on is not None and lying.expires is not None and lying.expires < on:
                    expired.append(lying)
                    continue
                usable.append(lying)
                taken = min(open_, lying.quantity)
                open_ -= taken
                chosen.append(lying if taken == lying.quantity else replace(lying, quantity=taken))
                if not open_:
                    return chosen
        raise LackingError(item=item, asked=quantity, there=usable, expired=expired)

    def _set(self, place: int, item: int, lot: str, quantity: int) -> None:
        self._lots.setdefault(item, {}).setdefault(place, {})[lot] = quantity
        self.changed[place, item, lot] = quantity
