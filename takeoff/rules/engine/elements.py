"""
What a run has that rules count: its sections, joints, covers, conductors, ends, holes, seals and crossings.

Things that are alike come as one group with a number, so that a run of many equal straights is counted once. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from takeoff.rules.engine.rule import Traits
from takeoff.runs.geometry.circle import PI
from takeoff.runs.geometry.facts import CableFacts, CrossingFacts, RunFacts, SectionFacts
from takeoff.units.exact import SCALE

NO_TRAITS = Traits()


@dataclass(slots=True)
class Group:
    """
    `count` things with the same traits.

    lengths : how long how many of them are [ticks]; empty when they have no length or the sheet does not say.
    volume : to fill in a crossing, None when the sheet does not say enough. [mm³] number : of the crossing, from 1.
    where : which they are, for people.
    """

    count: int
    where: str
    traits: Traits = NO_TRAITS
    lengths: tuple[tuple[int | Fraction, int], ...] = ()
    volume: Fraction | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Plate:
    """A seal of an end or a crossing, its plate's width and height in ticks where the sheet gives them."""

    where: str
    seal: str
    width: int | None
    height: int | None


class Elements:
    """The groups of one run, each kind of count worked out when first asked for."""

    def __init__(self, run: RunFacts) -> None:
        self.run = run
        self.ends = run.both_ends
        self.conductors = run.conductor_count
        self._groups: dict[str, list[Group]] = {}
        self._plates: list[Plate] | None = None

    def of(self, counted_on: str) -> list[Group]:
        """Return the groups of one count."""
        groups = self._groups.get(counted_on)
        if groups is None:
            groups = self._groups[counted_on] = _MAKE[counted_on](self)
        return groups

    @property
    def plates(self) -> list[Plate]:
        """The seals of the run: those of its ends, then those of its crossings in order."""
        if self._plates is None:
            self._plates = _plates(self)
        return self._plates


def posts(length: int | Fraction, spacing: int, end_offset: int) -> int:
    """
    Return how many posts stand along a length so that none is further than `spacing` from the next.

    All in one unit. ceil((length − 2 × end_offset) / spacing) + 1, and one where the offsets leave nothing between.
    Source: fence-post count, docs/formulas.md, "Posts".

    >>> posts(36, 3, 0), posts(40, 3, 0), posts(10, 10, 5)
    (13, 15, 1)
    """
    between = length - 2 * end_offset
    return 1 if between <= 0 else int(-(-between // spacing)) + 1


def unmeasured(group: Group, measure: str) -> str:
    """Return what the sheet leaves out of things that a measure would count, in words; "" when nothing."""
    if measure in {"spaced", "bead"} and not group.lengths:
        lacking = "the cable's diameter" if group.where.startswith("cable hole") else "its width or height"
        return f"the {group.where} lacks {lacking}; nothing is counted there"
    if measure == "fill" and group.volume is None:
        return f"the {group.where} lacks width, height, depth or a cable diameter; nothing is counted there"
    if measure == "fill" and group.volume is not None and group.volume < 0:
        return f"the cables do not fit the opening of the {group.where}; nothing is counted there"
    return ""


def crossing_volume(run: RunFacts, crossing: CrossingFacts) -> Fraction | None:
    """
    Return the volume around the cables of a crossing, None when a size is missing. [mm³]

    (width × height − the cross-sections of all cables, ground cables included) × depth. Negative when the cables do
    not fit. Source: area method of firestop guides, docs/formulas.md, "Fill".
    """
    if crossing.width is None or crossing.height is None or crossing.depth is None:
        return None
    squares = _squares(run)
    if squares is None:
        return None
    # One fraction instead of a sum of them: the quickest way to stay exact.
    opening = 4 * crossing.width * crossing.height * PI.denominator - PI.numerator * squares
    return Fraction(opening * crossing.depth, 4 * PI.denominator * SCALE**3)


def cables_area(run: RunFacts) -> Fraction | None:
    """Return the cross-section of all cables over their jackets, None when a diameter is missing. [ticks²]"""
    squares = _squares(run)
    return None if squares is None else PI / 4 * squares


def _squares(run: RunFacts) -> int | None:
    """Return the sum of the squared diameters of all cables: phases, neutrals, ground cables. [ticks²]"""
    cables: list[tuple[int, CableFacts | None]] = [(run.phases * run.cables_per_phase, run.cable)]
    if run.neutrals:
        cables.append((run.neutrals, run.neutral_cable or run.cable))
    if run.ground_cables:
        cables.append((run.ground_cables, run.ground_cable))
    total = 0
    for count, cable in cables:
        if cable is None or cable.diameter is None:
            return None
        total += count * cable.diameter * cable.diameter
    return total


@cache
def _circumference(diameter: int) -> Fraction:
    return PI * diameter


@cache
def _section_traits(kind: str, lie: str) -> Traits:
    return Traits(kind, lie)


def _plates(elements: Elements) -> list[Plate]:
    found = [
        Plate(f"{end.end} end", end.seal, end.seal_width, end.seal_height)
        for end in elements.ends
        if end.seal != "none"
    ]
    found += [
        Plate(_crossing_name(number, crossing), crossing.seal, crossing.width, crossing.height)
        for number, crossing in enumerate(elements.run.crossings, 1)
        if crossing.seal != "none"
    ]
    return found


def _alike(sections: Iterable[SectionFacts], where: str) -> list[Group]:
    """Return sections that are alike together. Posts stand where the drawing puts them: as-built lengths move none."""
    alike: dict[tuple[str, str], dict[int, int]] = {}
    for section in sections:
        key = section.kind, section.lie
        counts = alike.get(key)
        if counts is None:
            counts = alike[key] = {}
        counts[section.length] = counts.get(section.length, 0) + 1
    return [
        Group(sum(counts.values()), where + kind, _section_traits(kind, lie), tuple(counts.items()))
        for (kind, lie), counts in alike.items()
    ]


def _at_ends(elements: Elements, each: int, what: str, holes: str, *, by_hole: bool = False) -> list[Group]:
    """Return `each` things at both ends, or the holes of all their lugs."""
    found = []
    for end in elements.ends:
        many = getattr(end, holes)
        found.append(Group(each * many if by_hole else each, f"{what} at the {end.end} end", Traits(holes=many)))
    return found


def _plate_edges(elements: Elements) -> list[Group]:
    return [
        Group(
            1,
            f"edge of the seal plate at the {plate.where}",
            Traits(seal=plate.seal),
            () if plate.width is None or plate.height is None else ((2 * (plate.width + plate.height), 1),),
        )
        for plate in elements.plates
    ]


def _cable_holes(elements: Elements) -> list[Group]:
    run = elements.run
    cables = [(run.phases * run.cables_per_phase, run.cable)]
    if run.neutrals:
        cables.append((run.neutrals, run.neutral_cable or run.cable))
    return [
        Group(
            count,
            f"cable hole in the seal at the {plate.where}",
            Traits(seal=plate.seal),
            () if cable.diameter is None else ((_circumference(cable.diameter), count),),
        )
        for plate in elements.plates
        for count, cable in cables
    ]


def _block_faces(elements: Elements) -> list[Group]:
    blocks = elements.run.tiers + 1
    return [
        Group(
            blocks,
            f"block face in the seal at the {plate.where}",
            Traits(seal=plate.seal),
            () if plate.width is None else ((plate.width, blocks),),
        )
        for plate in elements.plates
    ]


def _crossings(elements: Elements) -> list[Group]:
    return [
        Group(
            1,
            _crossing_name(number, crossing),
            Traits(fire_rated=crossing.fire_rated, crossing_kind=crossing.kind),
            volume=crossing_volume(elements.run, crossing),
            number=number,
        )
        for number, crossing in enumerate(elements.run.crossings, 1)
    ]


def _crossing_name(number: int, crossing: CrossingFacts) -> str:
    return f"{crossing.kind} crossing {number}"


_MAKE: dict[str, Callable[[Elements], list[Group]]] = {
    "run": lambda its: [Group(1, "the run", lengths=((its.run.centre_line, 1),))],
    "section": lambda its: _alike(its.run.sections, ""),
    "straight": lambda its: [group for group in its.of("section") if group.traits.kind == "straight"],
    "fitting": lambda its: [group for group in its.of("section") if group.traits.kind != "straight"],
    "cover": lambda its: _alike([section for section in its.run.sections if section.cover], "cover of "),
    "joint": lambda its: [Group(max(0, len(its.run.sections) - 1), "joint")],
    "conductor": lambda its: [Group(its.conductors, "conductor")],
    "conductor end": lambda its: _at_ends(its, its.conductors, "conductor end", "lug_holes"),
    "ground conductor": lambda its: [Group(its.run.ground_cables, "ground conductor")],
    "ground end": lambda its: _at_ends(its, its.run.ground_cables, "ground end", "ground_lug_holes"),
    "lug hole": lambda its: _at_ends(its, its.conductors, "lug hole", "lug_holes", by_hole=True),
    "ground lug hole": lambda its: _at_ends(
        its, its.run.ground_cables, "ground lug hole", "ground_lug_holes", by_hole=True
    ),
    "end": lambda its: [Group(1, f"{end.end} end") for end in its.ends],
    "seal": lambda its: [Group(1, f"seal at the {plate.where}", Traits(seal=plate.seal)) for plate in its.plates],
    "seal plate edge": _plate_edges,
    "seal cable hole": _cable_holes,
    "seal block face": _block_faces,
    "crossing": _crossings,
}
