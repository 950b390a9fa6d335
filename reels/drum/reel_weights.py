"""
What a reel weighs, for whoever lifts or carries it.

For lifting only a weight that somebody weighed, or that is on the tag, and whole: never what is left by reckoning.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from takeoff.units.exact import SCALE
from takeoff.units.measures import kg_per_km, kilograms

SPARE = Fraction(11, 10)  # what is reckoned + 10 %: scale, catalogue and drum are each off by some (common practice)
KILOMETRE = 1000 * 1000 * SCALE  # [ticks]


@dataclass(frozen=True, slots=True)
class ReelWeights:
    """
    What is known of a reel's weight.

    gross, tare : full and bare, None where not known, in `unit` (lb or kg). cable : of 1000 ft in lb or of 1 km in kg,
    by `cable_unit` (lb/kft or kg/km). left : length left. [ticks]
    """

    gross: Decimal | None
    tare: Decimal | None
    unit: str
    cable: Decimal | None
    cable_unit: str
    left: int

    @property
    def most(self) -> int | None:
        """What it weighs at most, whole and up; None where nobody weighed it and no tag tells. [unit]"""
        return None if self.gross is None else ceil(self.gross)

    @property
    def reckoned(self) -> int | None:
        """What it weighs now by reckoning and a tenth more, whole and up; None where not known. [unit]"""
        if self.tare is None or not self.cable:
            return None  # the cable's own weight is never shown as a reel's
        cable = kg_per_km(self.cable, self.cable_unit) * Fraction(self.left, KILOMETRE)
        weighs = (kilograms(self.tare, self.unit) + cable) * SPARE
        return ceil(weighs / kilograms(Decimal(1), self.unit))
