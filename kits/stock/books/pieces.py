"""
Pieces of what came in place of an item: what they are worth of it, how many cover a need, what places share of them.

Quantities are whole ticks: of pieces, or of the item's own unit where they are a worth.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import ceil, floor

from takeoff.units.exact import SCALE
from takeoff.units.unit_words import comes_whole


@dataclass(frozen=True, slots=True)
class Piece:
    """
    How a lot lies and is counted.

    each : units of the item that one piece covers. came, unit : the item that came in its place, by key, and what that
    is counted in; None and blank where the item itself did.
    """

    each: Fraction = Fraction(1)
    came: int | None = None
    unit: str = ""

    def covering(self, quantity: Fraction | int) -> int:
        """Return the pieces that cover a quantity of the item: of what came in its place whole ones, up."""
        pieces = ceil(quantity if self is OWN else quantity / self.each)
        return -(-pieces // SCALE) * SCALE if self.came is not None and comes_whole(self.unit) else pieces


OWN = Piece()  # what lies in the item's own unit


def covered(quantity: int, each: Fraction) -> int:
    """Return what `quantity` ticks of pieces cover of an item, in whole ticks, cut, never rounded up."""
    return floor(quantity * each)


def shared_worth(places: Sequence[int], *, each: Fraction, came: Iterable[int]) -> list[int]:
    """
    Return what the pieces at places are worth: they share the worth of what came, cut by running total.

    places : the pieces at each in a fixed order, what is lacking there below zero. came : the pieces of each receipt,
    each of which covers a whole number of ticks. Where the places hold all that came, their worth adds up to what the
    receipts cover, whatever lies where.

    >>> shared_worth([10_000, 30_000], each=Fraction(280, 101), came=[40_000])
    [27722, 83169]
    """
    receipts = list(came)
    pieces = sum(receipts)
    rate = Fraction(sum(covered(one, each) for one in receipts), pieces) if pieces else each
    cuts = (floor(total * rate) for total in accumulate(places, initial=0))
    return [after - before for before, after in pairwise(cuts)]
