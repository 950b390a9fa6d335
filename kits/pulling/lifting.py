"""
What a reel weighs, told to whoever lifts or carries it. Pure: no Django.

For lifting only a weight that somebody weighed, or that is on the tag, and whole: never what is left by reckoning.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from takeoff.units.shown import decimal

POUND = Fraction(45_359_237, 100_000_000)  # kilograms, exactly: NIST SP 811
SPARE = Fraction(11, 10)  # what is reckoned + 10 %: scale, catalogue and drum are each off by some (common practice)
# Length ticks of which `weight` says the weight: 1000 ft, 1 km.
PER = {"lb": 1000 * 3_048_000, "kg": 1000 * 10_000_000}


@dataclass(frozen=True, slots=True)
class ReelWeights:
    """
    What is known of a reel's weight.

    gross, tare : full and bare, None where not known, in `unit` (lb or kg). cable : of 1000 ft in lb or of 1 km in kg,
    by `cable_unit`. left : length left. [ticks]
    """

    gross: Decimal | None
    tare: Decimal | None
    unit: str
    cable: Decimal | None
    cable_unit: str
    left: int


def for_lifting(reel: ReelWeights) -> str:
    """Return the weight to lift by: never less than the reel weighs."""
    if reel.gross is None:
        return "weight not known: weigh it"
    return f"not more than {decimal(ceil(reel.gross))} {reel.unit}, full as on its tag"


def for_a_forklift(reel: ReelWeights) -> str:
    """Return what it weighs now by reckoning and a tenth more, whole; empty where not known or above its gross."""
    if reel.tare is None or not reel.cable:
        return ""
    cable = Fraction(reel.cable) * reel.left / PER[reel.cable_unit]
    if reel.cable_unit != reel.unit:
        cable = cable / POUND if reel.unit == "lb" else cable * POUND
    weighs = ceil((Fraction(reel.tare) + cable) * SPARE)
    return "" if reel.gross is not None and weighs >= reel.gross else f"{decimal(weighs)} {reel.unit}"
