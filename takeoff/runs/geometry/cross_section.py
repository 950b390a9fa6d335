"""
The bundle of a run seen from its from end, ready to be drawn to scale. Pure: no Django.

Lengths in the drawing are millimetres as floats: nothing is counted from them.
"""

from __future__ import annotations

from dataclasses import dataclass

from takeoff.runs.geometry.cut_lengths import GROUND, NEUTRAL, Bundle, bundle_of, cable_of, sets_of
from takeoff.runs.geometry.facts import RunFacts
from takeoff.units.exact import SCALE

WALL = 0.9  # of a cable's diameter between the outermost cable and the enclosure
MARGIN = 2  # around the drawing, so that its lines are not cut off [mm]


@dataclass(frozen=True, slots=True)
class DrawnConductor:
    """
    A conductor in the drawing: its centre, its place and its cable's diameter. [mm]

    name : empty where the drawing package does not say where each conductor lies. tier : 1 is the bottom. position : 1
    is the left.
    """

    x: float
    y: float
    name: str
    tier: int
    position: int
    diameter: float

    @property
    def radius(self) -> float:
        """Half its diameter. [mm]"""
        return round(self.diameter / 2, 2)

    @property
    def inner(self) -> float:
        """The radius of a second ring inside it. [mm]"""
        return round(self.diameter * 0.42, 2)


@dataclass(frozen=True, slots=True)
class Block:
    """A support block below, between or above tiers."""

    y: float
    height: float


@dataclass(frozen=True, slots=True)
class CrossSection:
    """
    The bundle in its enclosure, in a box of `width` by `height`. [mm]

    diameter : of the phases' cable. grounds : names of the ground conductors, which lie outside the bundle.
    given : whether the drawing places every conductor; if not, only the geometry is assumed and no phase is named.
    """

    width: float
    height: float
    diameter: float
    conductors: tuple[DrawnConductor, ...]
    grounds: tuple[str, ...]
    blocks: tuple[Block, ...]
    given: bool

    @property
    def view_box(self) -> str:
        """The box with a margin on every side, as SVG asks for it. [mm]"""
        return f"{-MARGIN} {-MARGIN} {self.width + 2 * MARGIN:.2f} {self.height + 2 * MARGIN:.2f}"

    @property
    def text_size(self) -> float:
        """The size of what is written on a conductor. [mm]"""
        return self.diameter * 0.425


def draw_cross_section(run: RunFacts) -> CrossSection | None:
    """Return the bundle of a run as drawn, or None when no cable diameter is known."""
    bundle = bundle_of(run)
    if bundle.spacing is None or run.cable.diameter is None:
        return None
    spacing, diameter = bundle.spacing / SCALE, run.cable.diameter / SCALE
    edge = diameter * (0.5 + WALL)
    width = (bundle.places - 1) * spacing + 2 * edge
    height = (run.tiers - 1) * spacing + 2 * edge

    def centre(tier: int, position: int) -> tuple[float, float]:
        # Tier 1 is the bottom, position 1 the left; the drawing's y grows downward.
        return round(edge + (position - 1) * spacing, 2), round(height - edge - (tier - 1) * spacing, 2)

    return CrossSection(
        width=round(width, 2),
        height=round(height, 2),
        diameter=diameter,
        conductors=tuple(
            DrawnConductor(*centre(tier, position), name, tier, position, _diameter(run, name) or diameter)
            for tier, position, name in _placed(run, bundle)
        ),
        grounds=tuple(sets_of(run).get(GROUND, ())),
        blocks=_blocks(run.tiers, spacing, diameter, edge, height),
        given=bundle.given,
    )


def _diameter(run: RunFacts, name: str) -> float | None:
    """Return the diameter of a neutral's own cable, None of a phase or where it is not known. [mm]"""
    cable = cable_of(run, NEUTRAL) if name.startswith(NEUTRAL) else None
    return cable.diameter / SCALE if cable and cable.diameter else None


def _placed(run: RunFacts, bundle: Bundle) -> list[tuple[int, int, str]]:
    if bundle.given:
        return [
            (one.tier, one.position, one.name)
            for one in run.conductors
            if one.tier is not None and one.position is not None and not one.name.startswith(GROUND)
        ]
    count = sum(len(names) for set_name, names in sets_of(run).items() if set_name != GROUND)
    per_tier = -(-count // run.tiers)
    return [(number // per_tier + 1, number % per_tier + 1, "") for number in range(count)]


def _blocks(tiers: int, spacing: float, diameter: float, edge: float, height: float) -> tuple[Block, ...]:
    """Return the blocks as bands between the tiers, the lowest first."""
    lowest = height - edge
    outer = edge - diameter / 2
    bands = [Block(round(lowest + diameter / 2, 2), round(outer, 2))]
    for tier in range(1, tiers):
        top = lowest - tier * spacing + diameter / 2
        bands.append(Block(round(top, 2), round(spacing - diameter, 2)))
    bands.append(Block(0, round(outer, 2)))
    return tuple(bands)
