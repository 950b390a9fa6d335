"""
The belief of a class of use, fitted again to what the finished stages of a site really used.

As docs/decisions/priors-of-use.md says: the mean of the items' own rates and variances; how much an item's rate says of
another item's decides what the rate is worth. Everything is exact but the square root and the cut to four places.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import isqrt

from kits.shortages.reckon.usage import Prior

LEAST_ITEMS = 3  # below that the mean of a class is the habit of one or two items
MANY_ITEMS = 12  # from there on the spread of the variances says what one is worth
FEW_WORTH = 4
PLACES = 10_000


@dataclass(frozen=True, slots=True)
class Refit:
    """
    A belief fitted again, and what it rests on.

    items, stages : of which something was learned. prior : None with fewer than LEAST_ITEMS items.
    rate_worth_kept, spread_kept : that part says nothing new and stays as it was believed.
    """

    items: int
    stages: int
    prior: Prior | None
    rate_worth_kept: bool = False
    spread_kept: bool = False


def refit(items: Sequence[Sequence[tuple[Fraction, Fraction]]], believed: Prior) -> Refit:
    """
    Return the belief of a class after its items' finished stages.

    items : of each item (planned, used) of its finished stages, in its mean planned stages, planned above 0; those with
    fewer than two stages tell no spread and are left out. believed : what was believed, kept where nothing is learned.
    The rate is worth as much as items are alike, and no more than the stages that it rests on; where they differ by no
    more than chance, as much as was believed.
    """
    known = [pairs for pairs in items if len(pairs) > 1]
    stages = sum(len(pairs) for pairs in known)
    if len(known) < LEAST_ITEMS:
        return Refit(len(known), stages, None)
    plans = [sum((plan for plan, _ in pairs), Fraction(0)) for pairs in known]
    rates = [sum((used for _, used in pairs), Fraction(0)) / total for pairs, total in zip(known, plans, strict=True)]
    phis = [
        sum(((used - rate * plan) ** 2 / plan for plan, used in pairs), Fraction(0)) / (len(pairs) - 1)
        for pairs, rate in zip(known, rates, strict=True)
    ]
    rate, phi = _mean(rates), _mean(phis)
    if rate <= 0:  # nothing was used of any of it: no belief to take over
        return Refit(len(known), stages, None)
    between = _variance(rates) - phi * _mean([1 / total for total in plans])
    spread_worth = FEW_WORTH
    if len(known) >= MANY_ITEMS and (varied := _variance(phis)) > 0:
        spread_worth = round(4 + 2 * phi**2 / varied)
    worth = min(_places(phi / between), Fraction(stages)) if between > 0 else Fraction(0)
    spread = _root(phi * (spread_worth - 2) / spread_worth)
    return Refit(
        items=len(known),
        stages=stages,
        prior=Prior(
            rate=max(_places(rate), Fraction(1, PLACES)),
            rate_worth=worth or believed.rate_worth,
            spread=spread or believed.spread,
            spread_worth=spread_worth if spread else believed.spread_worth,
        ),
        rate_worth_kept=not worth,
        spread_kept=not spread,
    )


def _mean(values: Sequence[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


def _variance(values: Sequence[Fraction]) -> Fraction:
    mean = _mean(values)
    return sum(((value - mean) ** 2 for value in values), Fraction(0)) / (len(values) - 1)


def _places(value: Fraction) -> Fraction:
    """Return a value to four places, as priors are kept."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return Fraction(exact.quantize(Decimal("0.0001"), ROUND_HALF_UP))


def _root(value: Fraction) -> Fraction:
    """Return the square root to four places, down."""
    return Fraction(isqrt(int(value * PLACES * PLACES)), PLACES)
