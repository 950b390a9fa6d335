"""Weight and length of cable on a reel, and the smallest drum that a cable may be wound on."""

from __future__ import annotations

from enum import Enum

# A yard scale and a catalogue weight together: what pages print beside a length found by weight (common practice).
WEIGHT_ACCURACY = 0.02


def length_from_weight(gross: float, tare: float, weight_per_thousand: float) -> float:
    """
    Length of cable on a reel from its weight.

    gross, tare : reel with cable, bare reel. [lb or kg]
    weight_per_thousand : of the cable. [lb per 1000 ft, or kg per km]
    Returns feet, or metres. Accuracy: that of scale and catalogue, about 2 % of the gross weight.
    Raises ValueError when the reel weighs less than its tare. Source: arithmetic.
    """
    if weight_per_thousand <= 0:
        raise ValueError(f"a cable's weight must be above zero, got {weight_per_thousand}")
    if gross < tare:
        raise ValueError(f"a reel of {gross} cannot weigh less than its tare of {tare}")
    return (gross - tare) / weight_per_thousand * 1000


def weight_of_length(length: float, weight_per_thousand: float, tare: float = 0) -> float:
    """
    Weight of a length of cable, with its reel when `tare` is given.

    length : [ft, or m]. weight_per_thousand : [lb per 1000 ft, or kg per km]. Returns lb, or kg. Source: arithmetic.
    """
    if weight_per_thousand <= 0 or length < 0:
        raise ValueError("a cable's weight must be above zero and its length not negative")
    return tare + length * weight_per_thousand / 1000


class Build(Enum):
    """How a cable is built, as far as bending it round a drum goes; the value is the least drum in cable diameters."""

    LOW_VOLTAGE = ("nonshielded or wire shielded, to 2000 V", 10)
    OVER_2000_V_JACKETED = ("nonshielded or wire shielded, jacketed, over 2000 V", 12)
    OVER_2000_V_CONCENTRIC = ("nonjacketed with concentric wires, over 2000 V", 14)
    TAPE_SHIELDED = ("tape shielded", 14)

    def __init__(self, label: str, multiple: int) -> None:
        self.label = label
        self.multiple = multiple


def minimum_drum(diameter: float, build: Build) -> float:
    """
    Smallest drum diameter for a cable, in the unit of `diameter`.

    10 to 14 cable diameters by build. Source: a wire and cable technical handbook (1996), Table 10.1, after NEMA WC 26.
    """
    if diameter <= 0:
        raise ValueError(f"diameter must be above zero, got {diameter}")
    return diameter * build.multiple
