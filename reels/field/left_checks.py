"""Other ways to know how much cable is on a reel: they check the figure that rules, and do not rule."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from reels.drum.weight import WEIGHT_ACCURACY, length_from_weight
from reels.ledger.models import Reel
from takeoff.units.exact import SCALE, to_ticks
from takeoff.units.measures import kg_per_km, kilograms
from takeoff.units.shown import number

WEIGHT_SOURCE = "scale and catalogue weight, within 2 % of the gross weight (common practice)"
FORKLIFT = Fraction(110, 100)  # what is reckoned may be too little by the wood, and by wet cable


@dataclass(frozen=True, slots=True)
class LengthCheck:
    """
    A length found in another way, and the one that it stands against. [ticks]

    way : how. accuracy : how far it may be off. apart : whether even so it contradicts the other.
    """

    way: str
    source: str
    length: int
    accuracy: int
    against: int

    @property
    def apart(self) -> bool:
        """Whether the two do not overlap within their accuracies."""
        return abs(self.length - self.against) > self.accuracy

    @property
    def low(self) -> int:
        """The least that it can be. [ticks]"""
        return max(0, self.length - self.accuracy)

    @property
    def high(self) -> int:
        """The most that it can be. [ticks]"""
        return self.length + self.accuracy


def checks_of(reel: Reel, allowance: Fraction) -> tuple[LengthCheck, ...]:
    """Return what the weight as received says of the length as received. allowance : what that may be off itself."""
    if reel.gross is None or reel.tare is None or reel.cable.weight is None or reel.gross < reel.tare:
        return ()
    gross, tare = kilograms(reel.gross, reel.weight_unit), kilograms(reel.tare, reel.weight_unit)
    per_km = kg_per_km(reel.cable.weight, reel.cable.weight_unit)
    if per_km <= 0:
        return ()
    metre = 1000 * SCALE
    received = to_ticks(reel.length)
    off = round(gross * Fraction(WEIGHT_ACCURACY) / per_km * 1000 * metre) + ceil(received * allowance)
    length = round(length_from_weight(float(gross), float(tare), float(per_km)) * metre)
    return (LengthCheck("by weight as received", WEIGHT_SOURCE, length, off, received),)


def weights_for_lifting(reel: Reel, left: int) -> tuple[str, str]:
    """
    Return what a reel weighs at most, and what it weighs by reckoning with a tenth on top; "" where not known.

    left : length on it. [ticks] The cable's own weight is never shown as a reel's.
    """
    most = f"{number(ceil(reel.gross) * SCALE)} {reel.weight_unit}" if reel.gross is not None else ""
    if reel.tare is None or reel.cable.weight is None:
        return most, ""
    cable = kg_per_km(reel.cable.weight, reel.cable.weight_unit) * Fraction(left, 1000 * 1000 * SCALE)
    bare = kilograms(reel.tare, reel.weight_unit)
    kg = (bare + cable) * FORKLIFT
    reckoned = kg / kilograms(Decimal(1), reel.weight_unit)
    return most, f"{number(ceil(reckoned) * SCALE)} {reel.weight_unit}"
