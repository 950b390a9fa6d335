"""
What an item cost over time, as steps to one scale: a line for each supplier's part. Pure.

Positions are percentages of the drawing. The price is that from the least quantity of each offer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from kits.offers.choice.best_offer import Quote

LEFT, RIGHT = 16.0, 94.0  # per cent; prices stand left, the number of the line right
TOP, BOTTOM = 10.0, 74.0
APART = 12.0  # per cent between the numbers of two lines that end at one height


@dataclass(frozen=True, slots=True)
class PriceStep:
    """A stretch of days with one price, from x1 to x2 at height y; y0 : of the step before, where one touches it."""

    x1: float
    x2: float
    y: float
    y0: float | None
    since: date
    price: int


@dataclass(frozen=True, slots=True)
class PriceLine:
    """The steps of one supplier's part; number : under which it stands beside the drawing, and in it at number_y."""

    number: int
    supplier: str
    part: str
    steps: tuple[PriceStep, ...]
    number_y: float

    @property
    def last(self) -> PriceStep:
        """The step at its end."""
        return self.steps[-1]


@dataclass(frozen=True, slots=True)
class PriceChart:
    """All lines. top, low : the highest price and the lowest, None where all are one. since, until : both ends."""

    lines: tuple[PriceLine, ...]
    top: int
    low: int | None
    since: date
    until: date


def draw_prices(quotes: Iterable[Quote], today: date) -> PriceChart | None:
    """Return the prices of an item drawn up to `today`; None without any."""
    offers: dict[tuple[str, str], dict[date, Quote]] = {}
    for quote in sorted((one for one in quotes if one.offered <= today), key=lambda one: -one.from_quantity):
        offers.setdefault((quote.supplier, quote.part), {})[quote.offered] = quote  # the least quantity stays
    if not offers:
        return None
    every = [quote for of_day in offers.values() for quote in of_day.values()]
    since = min(quote.offered for quote in every)
    top, low = max(quote.price for quote in every), min(quote.price for quote in every)
    until = max(today, since + timedelta(days=1))
    days = (until - since).days

    def x(day: date) -> float:
        return round(LEFT + (min(day, until) - since).days * (RIGHT - LEFT) / days, 2)

    def y(price: int) -> float:
        return round(TOP + (top - price) * (BOTTOM - TOP) / ((top - low) or 1), 2)

    steps = {part: _steps([of_day[day] for day in sorted(of_day)], until, x, y) for part, of_day in offers.items()}
    at, lowest = {}, -APART
    for part in sorted(steps, key=lambda part: (steps[part][-1].y, part)):
        at[part] = lowest = max(steps[part][-1].y, lowest + APART)
    lines = tuple(
        PriceLine(number, *part, of_part, at[part]) for number, (part, of_part) in enumerate(sorted(steps.items()), 1)
    )
    return PriceChart(lines, top, low if low < top else None, since, until)


def _steps(
    quotes: Sequence[Quote], until: date, x: Callable[[date], float], y: Callable[[int], float]
) -> tuple[PriceStep, ...]:
    steps: list[PriceStep] = []
    for place, quote in enumerate(quotes):
        ends = quotes[place + 1].offered if place + 1 < len(quotes) else until
        over = quote.valid_until + timedelta(days=1) if quote.valid_until else ends
        touches = steps and steps[-1].x2 == x(quote.offered)
        before = steps[-1].y if touches else None
        steps.append(
            PriceStep(x(quote.offered), x(min(ends, over)), y(quote.price), before, quote.offered, quote.price)
        )
    return tuple(steps)
