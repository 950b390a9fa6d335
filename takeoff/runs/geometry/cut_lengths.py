"""
How long each conductor of a run must be cut, and the least that can still be terminated. Pure: no Django.

Lengths are ticks (1/10 000 mm); fractions stay exact until the end, where a cut length goes up to a whole tick.
Formulas and their sources: docs/formulas.md, "Conductors".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from takeoff.runs.geometry.circle import PI
from takeoff.runs.geometry.facts import CableFacts, ConductorFacts, RunFacts, SectionFacts

PHASES = ("A", "B", "C")
NEUTRAL = "N"
GROUND = "G"
ELBOWS = ("horizontal elbow", "vertical elbow")
RIGHT_ANGLE = 90


@dataclass(frozen=True, slots=True)
class ConductorLength:
    """
    A conductor with its lengths. [ticks]

    set_name : A, B, C, N or G. own : what it needs itself. length, least_length : its set's longest, which is what it
    is cut to and may not fall below.
    """

    name: str
    set_name: str
    cable: CableFacts | None
    own: int
    length: int
    least_length: int


@dataclass(frozen=True, slots=True)
class Bundle:
    """
    The bundle across the run: how far the conductors stand from its centre. [ticks]

    spacing : between centres both ways, None when no diameter is known. given : whether the drawing places every
    conductor. aside, above : the largest offset across and up, None as `spacing`.
    """

    places: int
    tiers: int
    spacing: int | None
    given: bool

    @property
    def aside(self) -> Fraction | None:
        """The largest offset to a side."""
        return None if self.spacing is None else Fraction(self.places - 1, 2) * self.spacing

    @property
    def above(self) -> Fraction | None:
        """The largest offset up or down."""
        return None if self.spacing is None else Fraction(self.tiers - 1, 2) * self.spacing

    def offset(self, conductor: ConductorFacts) -> tuple[Fraction, Fraction] | None:
        """Return how far a conductor stands to the left of the centre and above it, None when it is not placed."""
        if conductor.tier is None or conductor.position is None or self.spacing is None:
            return None
        left = Fraction(self.places + 1, 2) - conductor.position
        up = conductor.tier - Fraction(self.tiers + 1, 2)
        return left * self.spacing, up * self.spacing


@dataclass(frozen=True, slots=True)
class Turns:
    """
    The bends of a run added up, in radians: to the right less to the left, down less up, and those that nobody named.

    The unnamed are kept by the way their elbow lies.
    """

    right: Fraction
    down: Fraction
    unnamed_aside: Fraction
    unnamed_above: Fraction


def sets_of(run: RunFacts) -> dict[str, tuple[str, ...]]:
    """
    Return the names of a run's conductors by set: the phases, then neutrals N, then ground conductors G.

    Ground conductors are never meant by "conductor" elsewhere.
    """
    sets = {
        phase: tuple(f"{phase}{number}" for number in range(1, run.cables_per_phase + 1))
        for phase in PHASES[: run.phases]
    }
    if run.neutrals:
        sets[NEUTRAL] = tuple(f"{NEUTRAL}{number}" for number in range(1, run.neutrals + 1))
    if run.ground_cables:
        sets[GROUND] = tuple(f"{GROUND}{number}" for number in range(1, run.ground_cables + 1))
    return sets


def cable_of(run: RunFacts, set_name: str) -> CableFacts | None:
    """Return the cable of a set; None for ground conductors whose cable the sheet does not name."""
    if set_name == GROUND:
        return run.ground_cable
    if set_name == NEUTRAL:
        return run.neutral_cable or run.cable
    return run.cable


def bundle_of(run: RunFacts) -> Bundle:
    """
    Return the bundle of a run.

    Where the drawing does not place every conductor only its geometry is assumed: as many a tier as an even spread
    needs. Centres stand `centre_spacing` apart, twice the cable's diameter where that is not given.
    """
    names = {name for set_name, members in sets_of(run).items() if set_name != GROUND for name in members}
    placed = [
        conductor.position
        for conductor in run.conductors
        if conductor.name in names and conductor.tier is not None and conductor.position is not None
    ]
    given = len(placed) == len(names)
    even = -(-len(names) // run.tiers)
    places = max(placed) if given else max([even, *placed])
    spacing = run.centre_spacing
    if spacing is None and run.cable.diameter is not None:
        spacing = 2 * run.cable.diameter
    return Bundle(places, run.tiers, spacing, given)


def turn_angle(section: SectionFacts) -> Fraction:
    """Return what an elbow turns, in radians: 90° where the sheet gives no angle; other sections do not turn."""
    if section.kind not in ELBOWS:
        return Fraction(0)
    degrees = Fraction(RIGHT_ANGLE if section.angle is None else section.angle)
    return PI * degrees / 180


def turns_of(run: RunFacts) -> Turns:
    """Return the bends of a run added up."""
    right = down = aside = above = Fraction(0)
    for section in run.sections:
        angle = turn_angle(section)
        if section.turn in {"left", "right"}:
            right += angle if section.turn == "right" else -angle
        elif section.turn in {"up", "down"}:
            down += angle if section.turn == "down" else -angle
        elif section.kind == "vertical elbow":
            above += angle
        else:
            aside += angle
    return Turns(right, down, aside, above)


def bend_excess(turns: Turns, bundle: Bundle, offset: tuple[Fraction, Fraction] | None) -> Fraction:
    """
    Return what a conductor needs beyond the centre line for the bends of its run, never below 0. [ticks]

    offset : how far it stands to the left and up; None takes the bundle's largest offset, on whichever side is longer.
    An elbow of angle θ takes −θy on a left turn and +θy on a right turn at y to the left, −θz up and +θz down at z up;
    a turn that the sheet does not name takes θ × the largest offset. Concentric arcs: docs/formulas.md, "Bend excess".
    Zero when the bundle's spacing is not known, which `takeoff.runs.geometry.warnings` warns of.
    """
    aside, above = bundle.aside, bundle.above
    if aside is None or above is None:
        return Fraction(0)
    unnamed = turns.unnamed_aside * aside + turns.unnamed_above * above
    if offset is None:
        return abs(turns.right) * aside + abs(turns.down) * above + unnamed
    left, up = offset
    return max(Fraction(0), turns.right * left + turns.down * up + unnamed)


def conductor_lengths(run: RunFacts) -> tuple[ConductorLength, ...]:
    """
    Return every conductor of a run, ground conductors last, with what it must be cut to and the least it may be.

    (centre line + both stick-outs) × (1 + slack) + bend excess + extra + pull allowance, up to a whole tick; ground
    conductors (centre line + both tails) × (1 + slack) + extra. The conductors of a set get their set's longest.
    Source of equal lengths: NFPA 70 310.10, conductors in parallel.
    """
    found: list[ConductorLength] = []
    bundle, turns = bundle_of(run), turns_of(run)
    placed = {conductor.name: conductor for conductor in run.conductors}
    for set_name, names in sets_of(run).items():
        members = [placed.get(name, ConductorFacts(name)) for name in names]
        own = [_own(run, set_name, conductor, members, bundle, turns) for conductor in members]
        length, least = max(target for target, _ in own), max(least for _, least in own)
        found += [
            ConductorLength(conductor.name, set_name, cable_of(run, set_name), target, length, least)
            for conductor, (target, _) in zip(members, own, strict=True)
        ]
    return tuple(found)


def _own(
    run: RunFacts,
    set_name: str,
    conductor: ConductorFacts,
    members: Sequence[ConductorFacts],
    bundle: Bundle,
    turns: Turns,
) -> tuple[int, int]:
    """Return the target and the least length that one conductor needs itself. [ticks]"""
    base, least = straight_lengths(run, set_name)
    if set_name == GROUND:
        rest = Fraction(conductor.extra)
    else:
        rest = bend_excess(turns, bundle, offset_in(members, conductor, bundle)) + conductor.extra + run.pull_allowance
    return ceil(base + rest), ceil(least + rest)


def straight_lengths(run: RunFacts, set_name: str) -> tuple[Fraction, Fraction]:
    """Return (centre line + what sticks out at both ends) × (1 + slack), as planned and at the least. [ticks]"""
    ends = run.both_ends
    if set_name == GROUND:
        target = least = sum(end.ground_tail for end in ends)
    else:
        target = sum(end.stick_out for end in ends)
        least = sum(end.stick_out if end.min_stick_out is None else end.min_stick_out for end in ends)
    slack = 1 + Fraction(run.slack)
    return (run.centre_line + target) * slack, (run.centre_line + least) * slack


def offset_in(
    members: Sequence[ConductorFacts], conductor: ConductorFacts, bundle: Bundle
) -> tuple[Fraction, Fraction] | None:
    """Return a conductor's offset where the drawing places its whole set, else None: the set takes the largest."""
    if any(bundle.offset(member) is None for member in members):
        return None
    return bundle.offset(conductor)
