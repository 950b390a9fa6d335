"""What a planner may choose when asking for a cut plan. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from reels.planner.problem import Rates

# Round in the unit of the site: 3 m, 0.6 m and 0.06 m in feet, to the ten-thousandth that is kept.
_IN_METRES = Rates(whole=Fraction("9.8425"), remnant=Fraction("1.9685"), setup=Fraction("0.1969"))


def usual_rates(unit: str) -> Rates:
    """Return the rates of a site where nobody chose others. unit : the site's, ft or m."""
    return _IN_METRES if unit == "m" else Rates()


@dataclass(frozen=True, slots=True)
class Options:
    """
    How to plan a cable.

    rates, strict : what the levels trade at, or the strict order. with_coming : count on reels that are on the way.
    seconds : wall clock, the outer guard.
    """

    rates: Rates = field(default_factory=Rates)
    strict: bool = False
    with_coming: bool = False
    seconds: float = 10.0
