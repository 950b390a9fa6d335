"""
One reel as a strip to scale in its own printed marks: what is cut, not written down, planned, left. Pure.

Places are ticks from the outer end inward: of the mark's unit, or of length on a reel without marks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reels.ledger.marks.printed import Interval
from reels.plans.pages.strips import Scale, StripBand, Tick, band_between
from takeoff.units.exact import SCALE

MOST_TICKS = 8


@dataclass(frozen=True, slots=True)
class Stretch:
    """
    A part of a reel.

    kind : as of `StripBand`. at : what it covers. label : what stands on it. told : what it is, in words.
    pattern : of its run, for what is planned.
    """

    kind: str
    at: Interval
    label: str = ""
    told: str = ""
    pattern: int = 0


def draw_stretches(stretches: Sequence[Stretch], scale: Scale) -> tuple[StripBand, ...]:
    """Return the bands of a reel, in the order given: what comes later lies on top."""
    return tuple(
        band_between(scale, each.kind, each.at.start, each.at.end, each.label, told=each.told, pattern=each.pattern)
        for each in stretches
        if each.at.size > 0
    )


def scale_in_marks(outer: int, inner: int) -> Scale:
    """Return the scale of a reel whose ticks stand at round printed marks, `at` being the mark. [mark ticks]"""
    span = max(1, abs(inner - outer))
    step = _round_step(span)
    bare, lowest = Scale(span, ()), min(outer, inner)
    marks = range(-(-lowest // step) * step, lowest + span + 1, step)
    return Scale(span, tuple(Tick(bare.x(abs(mark - outer)), mark) for mark in marks))


def _round_step(span: int) -> int:
    """Return the least of 1, 2, 5, 10, 20 … marks of which a reel has no more than fit beside each other."""
    power = SCALE
    while True:
        for factor in (1, 2, 5):
            if span // (factor * power) < MOST_TICKS:
                return factor * power
        power *= 10


def without(whole: Interval, taken: Sequence[Interval]) -> list[Interval]:
    """Return what is left of an interval beside others, outermost first."""
    found, reached = [], whole.start
    for each in sorted(taken, key=lambda one: one.start):
        if each.start > reached:
            found.append(Interval(reached, min(each.start, whole.end)))
        reached = max(reached, each.end)
    if reached < whole.end:
        found.append(Interval(reached, whole.end))
    return [each for each in found if each.size > 0]
