"""What is left of an item's lots once its open needs have drawn from them. Quantities are ticks of its unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from kits.shortages.reckon.projection import LotStock


@dataclass(frozen=True, slots=True)
class Surplus:
    """left : of each lot, in the order in which they came. lacking : of all needs, what no lot could give."""

    left: tuple[int, ...]
    lacking: int


def surplus_of(lots: Sequence[LotStock], needs: Mapping[int, int], *, reserve: int = 0, as_of: date) -> Surplus:
    """
    Return what no open need will draw.

    lots : good stock. needs : by run. reserve : kept for any run beside its needs, at least 0.
    as_of : a lot past its last day serves nobody, and is left.
    What fits fewest runs is drawn first, then what expires first; what keeps is drawn last.
    """
    left = [lot.quantity for lot in lots]
    usable = [place for place, lot in enumerate(lots) if lot.expires is None or lot.expires >= as_of]
    fewest = sorted(usable, key=lambda place: (_fits(lots[place]), lots[place].expires or date.max, place))
    lacking = 0
    for run, need in (*sorted(needs.items()), (None, reserve)):
        for place in fewest:
            fits = lots[place].fits
            if fits is None or run in fits:
                drawn = min(need, left[place])
                left[place] -= drawn
                need -= drawn
        lacking += need
    return Surplus(tuple(left), lacking)


def _fits(lot: LotStock) -> float:
    return float("inf") if lot.fits is None else len(lot.fits)
