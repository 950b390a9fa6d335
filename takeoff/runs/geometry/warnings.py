"""
What a code or the drawing itself says against a run, before anyone cuts or orders. Pure: no Django.

The tool counts and plans; it does not certify: every code guard says who decides.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from takeoff.runs.geometry.cut_lengths import ELBOWS, GROUND, bundle_of, sets_of
from takeoff.runs.geometry.facts import CableFacts, RunFacts
from takeoff.units.exact import SCALE
from takeoff.units.lengths import INCH
from takeoff.units.shown import exactly, near
from takeoff.units.sizes import parse_size, size_for

NFPA_70 = "NFPA 70"
DECIDES = "The adopted local code and the engineer of record decide."

REFUSED = "refused"
WARNING = "warning"
NOTE = "note"
NOTE_BEGINS = "Note: "  # how a note reads where it stands among warnings

SMALLEST_CONDUCTOR = "1/0"
SMALLEST_SOURCE = "NFPA 70-2008 370.4(C)"
EQUAL_SOURCE = "NFPA 70 310.10, conductors in parallel"
GROUND_SOURCE = "NFPA 70 Table 250.122"
BEND_SOURCE = "NFPA 70 300.34"
DRAWING_SOURCE = "drawing package"

# Least radius as a multiple of the cable's diameter. NFPA 70 300.34 (over 1000 V; used for all voltages here).
BEND_MULTIPLE, BEND_MULTIPLE_SHIELDED = 8, 12

# NFPA 70 Table 250.122: least equipment grounding conductor by the rating that the breaker does not exceed, copper and
# aluminum, AWG or kcmil. Older editions print aluminum 800 at 4000 A and 1200 at 5000 and 6000 A. The rows
# below 200 A are from memory.
TABLE_250_122 = (
    (15, "14", "12"),
    (20, "12", "10"),
    (60, "10", "8"),
    (100, "8", "6"),
    (200, "6", "4"),
    (300, "4", "2"),
    (400, "3", "1"),
    (500, "2", "1/0"),
    (600, "1", "2/0"),
    (800, "1/0", "3/0"),
    (1000, "2/0", "4/0"),
    (1200, "3/0", "250"),
    (1600, "4/0", "350"),
    (2000, "250", "400"),
    (2500, "350", "600"),
    (3000, "400", "600"),
    (4000, "500", "750"),
    (5000, "700", "1250"),
    (6000, "800", "1250"),
)


@dataclass(frozen=True, slots=True)
class RunWarning:
    """
    One thing to see to.

    kind : refused, warning, or note where the site follows another code. key names the guard; text is a sentence.
    """

    kind: str
    key: str
    text: str
    source: str

    def __str__(self) -> str:
        return f"{NOTE_BEGINS if self.kind == NOTE else ''}{self.text} ({self.source})"


def notices(run: RunFacts, *, code: str = NFPA_70, unit: str = "ft") -> tuple[RunWarning, ...]:
    """
    Return all that stands against a run.

    code : the site's, NFPA 70 or other: with another the code's rules are notes. unit : the site's, ft or m.
    """
    return (
        *_smallest(run, code, unit),
        *_ground(run, code, unit),
        *_elbows(run, code, unit),
        *_drawing(run, unit),
    )


def unequal_set(
    lengths: Mapping[str, int], tolerance: int, *, code: str = NFPA_70, unit: str = "ft"
) -> RunWarning | None:
    """
    Return what stands against the lengths of one set, None when they are equal within a tolerance.

    lengths : by conductor [ticks]. tolerance : how far the longest and the shortest may differ. [ticks]
    Source: NFPA 70 310.10, which allows parallel conductors of one phase only at the same length.
    """
    if not lengths:
        return None
    shortest = min(lengths, key=lambda name: lengths[name])
    longest = max(lengths, key=lambda name: lengths[name])
    if lengths[longest] - lengths[shortest] <= tolerance:
        return None
    text = (
        f"{longest} is {exactly(lengths[longest], unit)} and {shortest} is {exactly(lengths[shortest], unit)}: "
        f"the conductors of a set must be equally long."
    )
    return _by_code(REFUSED, "unequal set", text, EQUAL_SOURCE, code)


def too_small(size: str) -> bool:
    """Return whether a conductor is smaller than cable bus takes. Source: NFPA 70-2008 370.4(C), 1/0 AWG and larger."""
    return parse_size(size) < parse_size(SMALLEST_CONDUCTOR)


def least_ground(amps: int, material: str) -> str | None:
    """
    Return the least size of an equipment grounding conductor, None above the 6000 A where the table ends.

    amps : the breaker's rating; between two rows the larger counts. material : Cu or Al.
    Source: NFPA 70 Table 250.122.

    >>> least_ground(225, "Cu"), least_ground(2000, "Al")
    ('4', '400')
    """
    for rating, copper, aluminum in TABLE_250_122:
        if amps <= rating:
            return aluminum if material == "Al" else copper
    return None


def least_radius(cable: CableFacts) -> Fraction | None:
    """
    Return the least bending radius of a cable, None without its diameter. [ticks]

    8 × diameter, 12 × where shielded. Source: NFPA 70 300.34.
    """
    if cable.diameter is None:
        return None
    return Fraction(cable.diameter * (BEND_MULTIPLE_SHIELDED if cable.shielded else BEND_MULTIPLE))


def radius_up(ticks: Fraction | int, unit: str) -> str:
    """Return a least radius rounded up, so that it never reads short: to 0.1 in, or to a whole millimetre."""
    if unit == "m":
        return exactly(ceil(Fraction(ticks) / SCALE) * SCALE, unit)
    tenths = ceil(Fraction(ticks) * 10 / INCH)
    return f"{tenths // 10}.{tenths % 10} in"


def _by_code(kind: str, key: str, text: str, source: str, code: str) -> RunWarning:
    """Return a guard that stands on the code, as a note where the site follows another."""
    return RunWarning(kind if code == NFPA_70 else NOTE, key, f"{text} {DECIDES}", source)


def _smallest(run: RunFacts, code: str, unit: str) -> Iterator[RunWarning]:
    cables = [("conductor", run.cable)]
    if run.neutrals and run.neutral_cable:
        cables.append(("neutral", run.neutral_cable))
    for what, cable in cables:
        if too_small(cable.size):
            size, least = size_for(cable.size, unit), size_for(SMALLEST_CONDUCTOR, unit)
            text = f"The {what} {cable.code} is {size}: cable bus takes {least} and larger."
            yield _by_code(REFUSED, "conductor too small", text, SMALLEST_SOURCE, code)


def _ground(run: RunFacts, code: str, unit: str) -> Iterator[RunWarning]:
    if not run.ground_cables:
        return
    if run.ground_cable is None:
        text = "No ground cable is named; give one, or 0 ground cables where the framework is the ground path."
        yield RunWarning(WARNING, "ground cable not named", text, DRAWING_SOURCE)
        return
    if run.breaker_amps is None:
        return
    least = least_ground(run.breaker_amps, run.ground_cable.material)
    if least is None:
        text = f"The breaker is rated {run.breaker_amps} A: the table of ground cables ends at 6000 A."
        yield _by_code(WARNING, "ground cable not in table", text, GROUND_SOURCE, code)
    elif parse_size(run.ground_cable.size) < parse_size(least):
        size, needed = size_for(run.ground_cable.size, unit), size_for(least, unit)
        text = (
            f"The ground cable {run.ground_cable.code} is {size} {run.ground_cable.material}: "
            f"a breaker of {run.breaker_amps} A asks for {needed} or larger."
        )
        yield _by_code(WARNING, "ground cable too small", text, GROUND_SOURCE, code)


def _elbows(run: RunFacts, code: str, unit: str) -> Iterator[RunWarning]:
    cables = {run.cable, run.neutral_cable or run.cable} if run.neutrals else {run.cable}
    known = [radius for cable in cables if (radius := least_radius(cable)) is not None]
    elbows = [section for section in run.sections if section.kind in ELBOWS]
    if elbows and bundle_of(run).spacing is None:
        text = (
            f"The cable {run.cable.code} has no diameter and the run no centre spacing: bends add nothing to lengths."
        )
        yield RunWarning(WARNING, "bends not counted", text, DRAWING_SOURCE)
    for section in elbows:
        if known and section.radius is not None and section.radius < max(known):
            shielded = any(cable.shielded and least_radius(cable) == max(known) for cable in cables)
            multiple = f"{BEND_MULTIPLE_SHIELDED} × the shielded" if shielded else f"{BEND_MULTIPLE} × the"
            text = (
                f"Section {section.seq} bends to {near(section.radius, unit)}: the cable needs "
                f"{radius_up(max(known), unit)}, {multiple} cable's diameter."
            )
            yield _by_code(WARNING, "elbow too tight", text, BEND_SOURCE, code)


def _drawing(run: RunFacts, unit: str) -> Iterator[RunWarning]:
    """Yield where the sheets of a run contradict each other, or leave an end out."""
    ends = [what for what in run.untold if what.endswith("end")]
    if ends:
        text = f"Nobody has told {' and '.join(ends)}: the run has no cut length until then."
        yield RunWarning(WARNING, "end not told", text, DRAWING_SOURCE)
    if not run.sections:
        yield RunWarning(
            WARNING, "no sections", "The run has no sections: nothing along it is counted.", DRAWING_SOURCE
        )
    if run.drawing_length is not None and run.drawing_length != run.drawn_line:
        text = (
            f"The drawing states {exactly(run.drawing_length, unit)}, its sections add up to "
            f"{exactly(run.drawn_line, unit)}."
        )
        yield RunWarning(WARNING, "drawing length differs", text, DRAWING_SOURCE)
    names = {name for members in sets_of(run).values() for name in members}
    for conductor in run.conductors:
        if conductor.name not in names:
            text = f"The sheet lists conductor {conductor.name}, which this run does not have."
            yield RunWarning(WARNING, "unknown conductor", text, DRAWING_SOURCE)
        elif conductor.tier is not None and conductor.tier > run.tiers:
            text = f"Conductor {conductor.name} lies in tier {conductor.tier}, the run has {run.tiers}."
            yield RunWarning(WARNING, "unknown tier", text, DRAWING_SOURCE)
    stand = Counter(
        (conductor.tier, conductor.position)
        for conductor in run.conductors
        if conductor.tier is not None and conductor.position is not None and not conductor.name.startswith(GROUND)
    )
    for (tier, position), count in stand.items():
        if count > 1:
            text = f"{count} conductors share tier {tier}, position {position}."
            yield RunWarning(WARNING, "shared position", text, DRAWING_SOURCE)
