"""
How cable winds on a drum: turns, layers, how much fits, how much is left.

Sizes are fractions, integers or floats in one unit of length (inches here and there in the sources), and every length
returned is in that same unit; nothing here decides a count, so floats are welcome. All of it is for single cables, not
for paralleled or triplexed assemblies.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, pi

# NEMA WC 26: layers nest into each other by 5 %, and 95 % of the traverse is used.
NESTING = 0.95
TRAVERSE_USED = 0.95

# Stated accuracy of each way to know a length, as a fraction, for pages to print beside the figure.
NEMA_ACCURACY = 0.06
WOUND_DIAMETER_ACCURACY = 0.03
TURNS_ACCURACY = 0.05
SIMPLE_ACCURACY = 0.30


@dataclass(frozen=True, slots=True)
class Drum:
    """
    A reel's bare sizes, all in one unit of length.

    flange : diameter of the flange. traverse : inside width between the flanges. drum : diameter of the barrel.
    Raises ValueError when one is not above zero or the drum is not smaller than the flange.
    """

    flange: float
    traverse: float
    drum: float

    def __post_init__(self) -> None:
        for name in ("flange", "traverse", "drum"):
            if getattr(self, name) <= 0:
                raise ValueError(f"{name} must be above zero, got {getattr(self, name)}")
        if self.drum >= self.flange:
            raise ValueError(f"a drum of {self.drum} does not fit inside a flange of {self.flange}")


@dataclass(frozen=True, slots=True)
class Capacity:
    """What a reel holds: `length` in the unit of the drum's sizes, wound in `layers` of `turns` each."""

    length: float
    layers: int
    turns: int


def round_half_up(number: float) -> int:
    """
    Round to the nearest whole number, halves upward (Python's own round takes them to the even neighbour).

    >>> round_half_up(2.5), round_half_up(13.49)
    (3, 13)
    """
    return floor(number + 0.5)


def clearance(diameter: float, *, inch: float = 1.0) -> float:
    """
    Least distance from the outermost layer to the flange's edge: one inch or one cable diameter, the larger.

    diameter : of the cable. inch : one inch in the same unit (25.4 for millimetres). Source: NEMA WC 26 method.
    """
    _above_zero("diameter", diameter)
    return max(inch, diameter)


def capacity(drum: Drum, diameter: float, *, clear: float | None = None, inch: float = 1.0) -> Capacity:
    """
    How much cable a reel holds.

    F = pi N T (0.95 N D + B), N = [(A − 2X − B) / (1.9 D)] layers, T = [0.95 C / D] turns, each [ ] rounded to the
    nearest whole number, halves up; A flange, B drum, C traverse, D cable, X clearance.
    Accuracy: rounding N and T moves the figure by up to about 6 % against the unrounded form. Weight is often the
    limit before this is. Source: NEMA WC 26 method, as printed in a cable engineering guide.
    """
    _above_zero("diameter", diameter)
    free = drum.flange - 2 * (clearance(diameter, inch=inch) if clear is None else clear) - drum.drum
    layers = max(0, round_half_up(free / (2 * NESTING * diameter)))
    turns = round_half_up(TRAVERSE_USED * drum.traverse / diameter)
    length = pi * layers * turns * (NESTING * layers * diameter + drum.drum)
    return Capacity(length=length, layers=layers, turns=turns)


def length_from_wound_diameter(drum: Drum, diameter: float, wound: float) -> float:
    """
    Length on a reel that is wound up to a measured diameter.

    The capacity method with the flange less its clearance replaced by `wound`, unrounded:
    F = pi N T (0.95 N D + B), N = (W − B) / (1.9 D), T = 0.95 C / D. Accuracy: 3 % of a level winding, an estimate.
    Raises ValueError when `wound` is below the drum's or above the flange's diameter. Source: derived from NEMA WC 26.
    """
    _above_zero("diameter", diameter)
    if not drum.drum <= wound <= drum.flange:
        raise ValueError(f"a wound diameter lies between drum {drum.drum} and flange {drum.flange}, got {wound}")
    layers = (wound - drum.drum) / (2 * NESTING * diameter)
    turns = TRAVERSE_USED * drum.traverse / diameter
    return pi * layers * turns * (NESTING * layers * diameter + drum.drum)


def length_of_layer(barrel: float, diameter: float, layer: int, turns: float) -> float:
    """
    Length of one layer on the cable's centre line, layers lying on top of each other without nesting.

    pi × (barrel + (2 layer − 1) × diameter) × turns; layer 1 lies on the barrel. Source: geometry. Rules of thumb that
    wind the first layer on the bare barrel read low by pi × diameter a turn.
    """
    _above_zero("barrel", barrel)
    _above_zero("diameter", diameter)
    if layer < 1 or turns < 0:
        raise ValueError(f"layers count from 1 and turns from 0, got layer {layer} and {turns} turns")
    return pi * (barrel + (2 * layer - 1) * diameter) * turns


def length_from_turns(barrel: float, diameter: float, full_layers: int, turns: float, outermost: float = 0) -> float:
    """
    Length of counted layers: `full_layers` of `turns` turns each, and `outermost` turns on the layer above them.

    Layers nest by 5 %, as in the capacity method. Accuracy: about 5 %; loose winding reads high.
    Source: geometry with the NEMA WC 26 nesting factor.
    """
    _above_zero("barrel", barrel)
    _above_zero("diameter", diameter)
    if full_layers < 0 or turns < 0 or outermost < 0:
        raise ValueError("layers and turns must not be negative")
    pitch = 2 * NESTING * diameter
    first = barrel + diameter
    full = sum(pi * (first + layer * pitch) * turns for layer in range(full_layers))
    return full + pi * (first + full_layers * pitch) * outermost


def reel_constant(diameter: float, oversize: float = 0.0) -> float:
    """
    Return the constant K of the (A + D) × A × B × K rule: feet per cubic inch, diameters in inches.

    K = (pi / 12) / (diameter + oversize)². Source: wire-rope reel-capacity table, whose printed constants it
    reproduces within 0.75 %; the oversize of a rope is inferred from them.
    """
    _above_zero("diameter", diameter + oversize)
    return pi / 12 / (diameter + oversize) ** 2


def simple_capacity_feet(depth: float, width: float, drum: float, constant: float) -> float:
    """
    Feet that fit by the simple rule (A + D) × A × B × K: usable depth A, width B, drum D in inches.

    Accuracy: loose winding may lose up to 30 %. Source: wire-rope reel-capacity rule with a worked example; with
    K = 0.262 / diameter² it is the simple reel factor of a public cable brief.
    """
    _above_zero("depth", depth)
    _above_zero("width", width)
    return (depth + drum) * depth * width * constant


def _above_zero(name: str, value: float) -> None:
    if value <= 0:
        raise ValueError(f"{name} must be above zero, got {value}")
