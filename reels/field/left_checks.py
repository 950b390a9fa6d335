"""Other ways to know how much cable is on a reel: they check the figure that rules, and do not rule."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from reels.drum.reel_weights import ReelWeights
from reels.drum.weight import WEIGHT_ACCURACY, length_from_weight
from reels.ledger.models import Reel
from takeoff.units.exact import SCALE, to_ticks
from takeoff.units.measures import kg_per_km, kilograms
from takeoff.units.shown import decimal

WEIGHT_SOURCE = "scale and catalogue weight, within 2 % of the gross weight (common practice)"


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


def weights_of(reel: Reel, left: int) -> ReelWeights:
    """Return what is known of a reel's weight. left : length on it. [ticks]"""
    return ReelWeights(reel.gross, reel.tare, reel.weight_unit, reel.cable.weight, reel.cable.weight_unit, left)


def weights_for_lifting(reel: Reel, left: int) -> tuple[str, str]:
    """
    Return what a reel weighs at most, and what it weighs by reckoning with a tenth on top; "" where not known.

    left : length on it. [ticks]
    """
    found = weights_of(reel, left)
    most, reckoned = ("" if one is None else f"{decimal(one)} {found.unit}" for one in (found.most, found.reckoned))
    return most, reckoned
