"""
The working of a cut length, step by step, as a person can check it with a pencil. Pure: no Django.

Built only when shown. Figures are written in the site's habit; the lengths themselves stay exact.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from takeoff.runs.geometry import cut_lengths as cut
from takeoff.runs.geometry.circle import PI
from takeoff.runs.geometry.facts import ConductorFacts, RunFacts
from takeoff.runs.geometry.warnings import NFPA_70
from takeoff.units.shown import near, percent, up

EQUAL_LENGTHS = "parallel conductors of one phase have the same length"
BEND_SOURCE = "geometry: concentric arcs differ by angle × offset"
DRAWING = "drawing package"
MEASURED = "measured on site"
SITE_SETTING = "run sheet"


@dataclass(frozen=True, slots=True)
class LengthStep:
    """One step: what it is, how it is worked, what comes out (both as text with units), and where it comes from."""

    label: str
    working: str
    result: str
    source: str


@dataclass(frozen=True, slots=True)
class LengthSteps:
    """
    The working of one conductor's cut length.

    placed : whether the drawing gives the positions of its whole set; if not, the page says that the phase arrangement
    is not given. longest : the conductor of its set that decides the length.
    """

    conductor: cut.ConductorLength
    placed: bool
    longest: str
    steps: tuple[LengthStep, ...]


def length_steps(run: RunFacts, name: str, *, unit: str, code: str = NFPA_70) -> LengthSteps:
    """
    Return the working of the cut length of one conductor.

    unit, code : the site's; where another code holds, none is cited. Raises KeyError for a conductor that the run does
    not have.
    """
    lengths = {length.name: length for length in cut.conductor_lengths(run)}
    conductor = lengths[name]
    members = [length for length in lengths.values() if length.set_name == conductor.set_name]
    longest = max(members, key=lambda length: length.own)
    facts = {member.name: member for member in run.conductors}
    placing = [facts.get(member.name, ConductorFacts(member.name)) for member in members]
    bundle = cut.bundle_of(run)
    one = facts.get(name, ConductorFacts(name))
    offset = cut.offset_in(placing, one, bundle)
    steps = [_centre_line(run, unit), _ends(run, conductor.set_name, unit), *_slack(run, conductor.set_name, unit)]
    if conductor.set_name != cut.GROUND:
        steps += _bends(run, bundle, offset, unit)
    if one.extra:
        steps.append(LengthStep("Extra for this conductor", "as the sheet says", near(one.extra, unit), DRAWING))
    if run.pull_allowance and conductor.set_name != cut.GROUND:
        pull = near(run.pull_allowance, unit)
        steps.append(LengthStep("Allowance for the pull", "as the sheet says", pull, SITE_SETTING))
    if run.untold:
        working = f"nobody has told {' and '.join(run.untold)}"
        steps.append(LengthStep("Cut length", working, "not known yet", DRAWING))
        return LengthSteps(conductor, offset is not None, longest.name, tuple(steps))
    source = f"{'NFPA 70 310.10' if code == NFPA_70 else 'common practice'}: {EQUAL_LENGTHS}"
    steps.append(LengthStep("Needed", "all of these added, up", up(conductor.own, unit), "sum"))
    working = f"the longest of set {conductor.set_name} is {longest.name}"
    steps.append(LengthStep("Cut length", working, up(conductor.length, unit), source))
    if conductor.least_length != conductor.length:
        least = up(conductor.least_length, unit)
        steps.append(LengthStep("Least length", "the same with the least stick-outs", least, DRAWING))
    return LengthSteps(conductor, offset is not None, longest.name, tuple(steps))


def _centre_line(run: RunFacts, unit: str) -> LengthStep:
    shown = near(run.centre_line, unit)
    if run.measured is not None:
        drawn = near(run.drawn_line, unit)
        return LengthStep("Centre line, as built", f"measured for the whole run; drawn {drawn}", shown, MEASURED)
    counted = Counter(
        (section.kind, section.length if section.measured is None else section.measured) for section in run.sections
    )
    working = " + ".join(f"{count} × {near(length, unit)} {kind}" for (kind, length), count in counted.items())
    if any(section.measured is not None for section in run.sections):
        return LengthStep("Centre line, as built by section", working, shown, MEASURED)
    return LengthStep("Centre line, as drawn", working or "no sections", shown, DRAWING)


def _ends(run: RunFacts, set_name: str, unit: str) -> LengthStep:
    ground = set_name == cut.GROUND
    parts = {end.end: end.ground_tail if ground else end.stick_out for end in run.ends}
    told = (f"{near(parts[end], unit) if end in parts else 'not told'} at the {end} end" for end in ("from", "to"))
    result = near(sum(parts.values()), unit) if len(parts) == 2 else "not known yet"
    return LengthStep("Ground tails" if ground else "Stick-outs", " + ".join(told), result, DRAWING)


def _slack(run: RunFacts, set_name: str, unit: str) -> list[LengthStep]:
    if not run.slack:
        return []
    target, _ = cut.straight_lengths(run, set_name)
    before = target / (1 + Fraction(run.slack))
    working = f"{near(before, unit)} × {percent(run.slack)}"
    return [LengthStep("Slack", working, near(target - before, unit), SITE_SETTING)]


def _bends(run: RunFacts, bundle: cut.Bundle, offset: tuple[Fraction, Fraction] | None, unit: str) -> list[LengthStep]:
    """Return one step for each elbow and the rule that the sum is never below 0."""
    elbows = [section for section in run.sections if section.kind in cut.ELBOWS]
    if not elbows:
        return []
    if bundle.aside is None or bundle.above is None:
        return [LengthStep("Bends", "no cable diameter and no centre spacing given", "not counted", BEND_SOURCE)]
    total = cut.bend_excess(cut.turns_of(run), bundle, offset)
    if offset is None:
        return [*_largest(run, bundle, unit), LengthStep("Bend excess", "added", near(total, unit), BEND_SOURCE)]
    left, above = offset
    steps = []
    for section in elbows:
        degrees = cut.RIGHT_ANGLE if section.angle is None else section.angle
        angle = cut.turn_angle(section)
        if section.turn in {"left", "right"}:
            value = angle * left * (1 if section.turn == "right" else -1)
            where = f"{near(abs(left), unit)} {'left' if left >= 0 else 'right'} of the centre"
        elif section.turn in {"up", "down"}:
            value = angle * above * (1 if section.turn == "down" else -1)
            where = f"{near(abs(above), unit)} {'above' if above >= 0 else 'below'} the centre"
        else:
            largest = bundle.above if section.kind == "vertical elbow" else bundle.aside
            value = angle * largest
            where = f"the largest offset, {near(largest, unit)}: the turn is not named"
        label = f"Section {section.seq}, {degrees}° {section.turn}".rstrip()
        steps.append(LengthStep(label, f"π × {degrees}/180 × {where}", _signed(value, unit), BEND_SOURCE))
    steps.append(LengthStep("Bend excess", "added, never below 0", near(total, unit), BEND_SOURCE))
    return steps


def _largest(run: RunFacts, bundle: cut.Bundle, unit: str) -> list[LengthStep]:
    """Return the steps of a set that the drawing does not place."""
    turns = cut.turns_of(run)
    rows = (
        ("Turns right less left", abs(turns.right), bundle.aside, "to the side"),
        ("Turns down less up", abs(turns.down), bundle.above, "up or down"),
        ("Turns not named, level", turns.unnamed_aside, bundle.aside, "to the side"),
        ("Turns not named, up or down", turns.unnamed_above, bundle.above, "up or down"),
    )
    return [
        LengthStep(
            label,
            f"{_degrees(angle)}° × π/180 × {near(largest, unit)}, the largest offset {way}",
            near(angle * largest, unit),
            BEND_SOURCE,
        )
        for label, angle, largest, way in rows
        if angle and largest is not None
    ]


def _degrees(angle: Fraction) -> str:
    return f"{float(angle / PI * 180):g}"


def _signed(ticks: Fraction, unit: str) -> str:
    return f"{'-' if ticks < 0 else '+'}{near(abs(ticks), unit)}"
