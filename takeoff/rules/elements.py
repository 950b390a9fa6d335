"""
What a run has that rules count: its sections, joints, covers, conductors, ends, holes, seals and crossings.

Things that are alike come as one group with a number, so that a run of many equal straights is counted once. Pure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from takeoff.rules.rule import Tally
from takeoff.runs.circle import PI, circle_area
from takeoff.runs.facts import CableFacts, CrossingFacts, RunFacts
from takeoff.units.exact import SCALE


@dataclass(slots=True)
class Group:
    """
    `count` things alike.

    length : of each along itself, None when it has none or the sheet does not say. [ticks]
    volume : to fill in each crossing, None when the sheet does not say enough. [mm³] number : of the crossing, from 1.
    where : which they are, for people. The rest is what conditions choose by.
    """

    count: int
    length: int | Fraction | None = None
    where: str = ""
    kind: str = ""
    lie: str = ""
    seal: str = ""
    holes: int = 0
    fire_rated: bool = False
    crossing_kind: str = ""
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
        self._groups: dict[str, list[Group]] = {}

    def of(self, counted_on: str) -> list[Group]:
        """Return the groups of one count."""
        groups = self._groups.get(counted_on)
        if groups is None:
            groups = self._groups[counted_on] = _MAKE[counted_on](self.run)
        return groups

    def matching(self, tally: Tally) -> list[Group]:
        """Return the groups that meet a tally's conditions on the things counted."""
        return [group for group in self.of(tally.counted_on) if tally.takes(group)]


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


def plates(run: RunFacts) -> list[Plate]:
    """Return the seals of a run: those of its ends, then those of its crossings in order."""
    found = [
        Plate(f"{end.end} end", end.seal, end.seal_width, end.seal_height)
        for end in run.both_ends
        if end.seal != "none"
    ]
    found += [
        Plate(_crossing_name(number, crossing), crossing.seal, crossing.width, crossing.height)
        for number, crossing in enumerate(run.crossings, 1)
        if crossing.seal != "none"
    ]
    return found


def crossing_volume(run: RunFacts, crossing: CrossingFacts) -> Fraction | None:
    """
    Return the volume around the cables of a crossing, None when a size is missing. [mm³]

    (width × height − the cross-sections of all cables, ground cables included) × depth. Negative when the cables do
    not fit. Source: area method of firestop guides, docs/formulas.md, "Fill".
    """
    if crossing.width is None or crossing.height is None or crossing.depth is None:
        return None
    cables = cables_area(run)
    if cables is None:
        return None
    return (crossing.width * crossing.height - cables) * crossing.depth / SCALE**3


def cables_area(run: RunFacts) -> Fraction | None:
    """Return the cross-section of all cables over their jackets, None when a diameter is missing. [ticks²]"""
    total = Fraction(0)
    for count, cable in cables_of(run):
        if cable is None or cable.diameter is None:
            return None
        total += count * circle_area(cable.diameter)
    return total


def cables_of(run: RunFacts) -> list[tuple[int, CableFacts | None]]:
    """Return how many of which cable lie in the run: phases, neutrals, ground cables."""
    cables: list[tuple[int, CableFacts | None]] = [(run.phases * run.cables_per_phase, run.cable)]
    if run.neutrals:
        cables.append((run.neutrals, run.neutral_cable or run.cable))
    if run.ground_cables:
        cables.append((run.ground_cables, run.ground_cable))
    return cables


def _run(run: RunFacts) -> list[Group]:
    return [Group(1, run.centre_line, "the run")]


def _sections(run: RunFacts) -> list[Group]:
    # Posts stand where the drawing puts them: as-built lengths do not move them.
    alike = Counter((section.kind, section.lie, section.length) for section in run.sections)
    return [Group(count, length, kind, kind, lie) for (kind, lie, length), count in alike.items()]


def _straights(run: RunFacts) -> list[Group]:
    return [group for group in _sections(run) if group.kind == "straight"]


def _fittings(run: RunFacts) -> list[Group]:
    return [group for group in _sections(run) if group.kind != "straight"]


def _covers(run: RunFacts) -> list[Group]:
    alike = Counter((section.kind, section.lie, section.length) for section in run.sections if section.cover)
    return [Group(count, length, f"cover of {kind}", kind, lie) for (kind, lie, length), count in alike.items()]


def _joints(run: RunFacts) -> list[Group]:
    return [Group(max(0, len(run.sections) - 1), None, "joint")]


def _conductors(run: RunFacts) -> list[Group]:
    return [Group(run.conductor_count, None, "conductor")]


def _ground_conductors(run: RunFacts) -> list[Group]:
    return [Group(run.ground_cables, None, "ground conductor")]


def _conductor_ends(run: RunFacts) -> list[Group]:
    return [
        Group(run.conductor_count, None, f"conductor end at the {end.end} end", holes=end.lug_holes)
        for end in run.both_ends
    ]


def _ground_ends(run: RunFacts) -> list[Group]:
    return [
        Group(run.ground_cables, None, f"ground end at the {end.end} end", holes=end.ground_lug_holes)
        for end in run.both_ends
    ]


def _lug_holes(run: RunFacts) -> list[Group]:
    return [
        Group(run.conductor_count * end.lug_holes, None, f"lug hole at the {end.end} end", holes=end.lug_holes)
        for end in run.both_ends
    ]


def _ground_lug_holes(run: RunFacts) -> list[Group]:
    return [
        Group(
            run.ground_cables * end.ground_lug_holes,
            None,
            f"ground lug hole at the {end.end} end",
            holes=end.ground_lug_holes,
        )
        for end in run.both_ends
    ]


def _ends(run: RunFacts) -> list[Group]:
    return [Group(1, None, f"{end.end} end") for end in run.both_ends]


def _seals(run: RunFacts) -> list[Group]:
    return [Group(1, None, f"seal at the {plate.where}", seal=plate.seal) for plate in plates(run)]


def _plate_edges(run: RunFacts) -> list[Group]:
    return [
        Group(
            1,
            None if plate.width is None or plate.height is None else 2 * (plate.width + plate.height),
            f"edge of the seal plate at the {plate.where}",
            seal=plate.seal,
        )
        for plate in plates(run)
    ]


def _cable_holes(run: RunFacts) -> list[Group]:
    cables = [(run.phases * run.cables_per_phase, run.cable)]
    if run.neutrals:
        cables.append((run.neutrals, run.neutral_cable or run.cable))
    return [
        Group(
            count,
            None if cable.diameter is None else PI * cable.diameter,
            f"cable hole in the seal at the {plate.where}",
            seal=plate.seal,
        )
        for plate in plates(run)
        for count, cable in cables
    ]


def _block_faces(run: RunFacts) -> list[Group]:
    return [
        Group(run.tiers + 1, plate.width, f"block face in the seal at the {plate.where}", seal=plate.seal)
        for plate in plates(run)
    ]


def _crossings(run: RunFacts) -> list[Group]:
    return [
        Group(
            1,
            None,
            _crossing_name(number, crossing),
            fire_rated=crossing.fire_rated,
            crossing_kind=crossing.kind,
            volume=crossing_volume(run, crossing),
            number=number,
        )
        for number, crossing in enumerate(run.crossings, 1)
    ]


def _crossing_name(number: int, crossing: CrossingFacts) -> str:
    return f"{crossing.kind} crossing {number}"


_MAKE: dict[str, Callable[[RunFacts], list[Group]]] = {
    "run": _run,
    "section": _sections,
    "straight": _straights,
    "fitting": _fittings,
    "cover": _covers,
    "joint": _joints,
    "conductor": _conductors,
    "conductor end": _conductor_ends,
    "ground conductor": _ground_conductors,
    "ground end": _ground_ends,
    "lug hole": _lug_holes,
    "ground lug hole": _ground_lug_holes,
    "end": _ends,
    "seal": _seals,
    "seal plate edge": _plate_edges,
    "seal cable hole": _cable_holes,
    "seal block face": _block_faces,
    "crossing": _crossings,
}
