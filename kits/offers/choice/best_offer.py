"""
Which offer to take: least cost for what is needed, in time; ties by lead time.

Quantities are ticks of an item's unit, prices minor units of the currency for one unit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from takeoff.units.exact import SCALE


@dataclass(frozen=True, slots=True)
class Quote:
    """
    One price that a supplier said on a day, from a quantity on.

    key : tells it apart. pack, least : sold in whole packs, and no fewer. comes_on : the day on which it is here if it
    is ordered today, None where nobody knows. valid_until : its last day, None until another replaces it.
    """

    key: int
    supplier: str
    part: str
    offered: date
    price: int
    from_quantity: int = 0
    pack: int = SCALE
    least: int = 0
    comes_on: date | None = None
    valid_until: date | None = None


@dataclass(frozen=True, slots=True)
class Buy:
    """
    A quote with what is to be bought by it for a need.

    quantity : in whole packs, no fewer than the price asks for. cost : in minor units, exact. in_time : by the day.
    """

    quote: Quote
    quantity: int
    cost: Fraction
    in_time: bool

    @property
    def minor(self) -> int:
        """The cost in whole minor units."""
        return round(self.cost)


def standing(quotes: Iterable[Quote], on: date) -> tuple[Quote, ...]:
    """Return the quotes that hold on a day: the last offer of each supplier's part, while it is valid."""
    said = [quote for quote in quotes if quote.offered <= on]
    last: dict[tuple[str, str], date] = {}
    for quote in said:
        part = quote.supplier, quote.part
        last[part] = max(quote.offered, last.get(part, quote.offered))
    return tuple(
        quote
        for quote in said
        if quote.offered == last[quote.supplier, quote.part] and (quote.valid_until is None or quote.valid_until >= on)
    )


def ways_to_buy(quotes: Iterable[Quote], need: int, *, by: date | None) -> tuple[Buy, ...]:
    """
    Return each quote with what it costs to cover a need, the one to take first.

    quotes : that hold. need : above 0. by : the day to have it; None where no day is known, and then each is in time.
    What comes in time stands before what is late or of which nobody knows; in time the least cost is first, then the
    first to come; late ones stand by the day on which they come. What is bought to reach a lower price counts whole.
    """
    ways = []
    for quote in quotes:
        at_least = max(need, quote.least, quote.from_quantity)
        quantity = -(-at_least // quote.pack) * quote.pack
        in_time = by is None or (quote.comes_on is not None and quote.comes_on <= by)
        ways.append(Buy(quote, quantity, Fraction(quantity * quote.price, SCALE), in_time))
    return tuple(sorted(ways, key=_rank))


def _rank(way: Buy) -> tuple[object, ...]:
    comes, name = way.quote.comes_on or date.max, (way.quote.supplier, way.quote.part, way.quantity)
    return (False, way.cost, comes, *name) if way.in_time else (True, comes, way.cost, *name)
