"""
Cutting at printed marks that a crew can read: where to cut, and what that takes off a reel.

Marks are whole ticks (1/10 000) of the mark's unit, lengths whole ticks (1/10 000 mm). Until taped cuts prove a reel's
own factor, a cut is by tape; where nobody tapes, every mark gets an allowance: marks that are a fraction `a` too long
tell need ÷ (1 − a), which is never too short.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from reels.ledger.marks.line import TOLD_STEP, ReelBooks
from reels.ledger.marks.printed import LENGTH_PER_MARK, MarksError, ReelMarks
from takeoff.units.exact import SCALE, from_ticks
from takeoff.units.lengths import INCH

CENTIMETRE = 100_000  # [ticks]
TOWARD_CORE = "→"
INCHES, TENTHS, CENTIMETRES = "inches", "tenths", "cm"
# Decimals of the mark's unit that a rule finds between two printed marks: 0.1 ft, 0.01 m.
_PLACES = {"ft": 1, "m": 2}
_RULED = {INCHES: (INCH, "in"), CENTIMETRES: (CENTIMETRE, "cm")}


@dataclass(frozen=True, slots=True)
class Hands:
    """
    How the crews of a site measure.

    tape : what lengths are taped in whole steps of. [ticks] marks_as : how a place between two printed marks is told:
    whole "inches" or "cm" on from a printed mark, or "tenths": decimals of the mark's unit (0.1 ft, 0.01 m).
    """

    tape: int
    marks_as: str

    def up(self, need: int) -> int:
        """Return a needed length as it is taped: up to the next whole step. [ticks]"""
        return -(-need // self.tape) * self.tape

    def step(self, unit: str) -> Fraction:
        """Return the step between two printed marks. unit : of the marks, "ft" or "m". [mark ticks]"""
        if self.marks_as == TENTHS:
            return Fraction(SCALE, 10 ** _PLACES[unit])
        return _RULED[self.marks_as][0] / LENGTH_PER_MARK[unit]

    def next_mark(self, at: Fraction | int, unit: str) -> int:
        """Return the first place at or beyond `at` that a crew can find, both growing toward the core. [mark ticks]"""
        step = self.step(unit)
        whole, rest = divmod(at, SCALE)
        # A whole inch is no whole number of ticks: what is asked for may lie between it and its tick.
        near = floor(rest / step)
        places = (whole * SCALE + min(round(steps * step), SCALE) for steps in range(near, near + 3))
        return next(place for place in places if place >= at)

    def told(self, mark: int, reel: ReelMarks) -> str:
        """
        Return where a mark is to be found, to the nearest step: on from a printed mark, toward the core.

        Marks that fall toward the core count down: 3406.25 is then three quarters of a foot on from 3407. Each names
        its unit: 230 m + 49 cm, since reels of both may stand side by side.
        """
        if self.marks_as == TENTHS:
            return f"{from_ticks(mark):.{_PLACES[reel.unit]}f} {reel.unit}"
        sign = _inward(reel)
        step, (_, name) = self.step(reel.unit), _RULED[self.marks_as]
        whole, rest = divmod(sign * mark, SCALE)
        steps = round(rest / step)
        if steps * step >= SCALE:
            whole, steps = whole + 1, 0
        printed = f"{sign * whole} {reel.unit}"
        return f"{printed} {'+' if sign > 0 else '−'} {steps} {name}" if steps else printed


def mark_to_cut_at(
    reel: ReelMarks, books: ReelBooks, need: int, allowance: Fraction, hands: Hands, *, after: int = 0
) -> int | None:
    """
    Return the printed mark to cut at for a needed length, or None when the marks left do not hold it.

    need : length needed. [ticks]
    allowance : what a printed mark may be off, as a fraction; counts only until the reel has a factor.
    hands : how the crew measures; the length is the one that it tapes, the mark one that it can find.
    after : mark ticks that earlier cuts of the same list will have taken. [mark ticks]
    The mark is rounded away from the outer end, so that no cable is shorter. [mark ticks]
    """
    if not reel.has_marks:
        return None
    sign, start = _inward(reel), reel.mark_at(books.outermost + after)
    target = sign * start + hands.up(need) * marks_per_length(reel, books, allowance)
    mark = sign * hands.next_mark(target, reel.unit)
    try:
        reel.depth(mark)
    except MarksError:
        return None
    return mark


def marks_per_length(reel: ReelMarks, books: ReelBooks, allowance: Fraction) -> Fraction:
    """Return the mark ticks to allow for one tick of length: by the reel's factor, else with the allowance."""
    plain = 1 / LENGTH_PER_MARK[reel.unit]
    return plain / (1 - allowance if books.factor is None else books.factor)


def length_taken(reel: ReelMarks, books: ReelBooks, need: int, allowance: Fraction, hands: Hands) -> int:
    """
    Return the most that a cut for a needed length takes off what can be relied on. [ticks]

    A crew tapes whole inches or centimetres and cuts at marks that it can find, so each cut takes up to one step of
    either more than it needs. need : [ticks]
    """
    taped = hands.up(need)
    if not reel.has_marks:
        return taped
    per_length, step = marks_per_length(reel, books, allowance), hands.step(reel.unit)
    whole, rest = divmod(taped * per_length, SCALE)
    if rest:
        # Ticks are off by up to a half at both ends where steps are no whole ticks.
        rest += 0 if step.denominator == 1 else 1
        # A step that does not divide the unit may begin anew at a printed mark on the way.
        rest = ceil(rest / step) * step if (SCALE / step).denominator == 1 else rest + step
    return ceil((whole * SCALE + rest) / per_length)


def lost_to_reading(reel: ReelMarks, books: ReelBooks, allowance: Fraction, hands: Hands) -> int:
    """Return what the next cut takes more because the reel does not begin at a mark that a crew can find. [ticks]"""
    if not reel.has_marks:
        return 0
    start = _inward(reel) * reel.mark_at(books.outermost)
    return ceil((hands.next_mark(start, reel.unit) - start) / marks_per_length(reel, books, allowance))


def _inward(reel: ReelMarks) -> int:
    """Return 1 where marks climb toward the core, -1 where they fall: times a mark it grows toward the core."""
    return 1 if reel.mark_at(1) > reel.mark_at(0) else -1


def unreliable_tail(reel: ReelMarks, books: ReelBooks, allowance: Fraction, held: int) -> int:
    """
    Return how much of what is left is not to be relied on. [ticks]

    held : what the drum holds by its end, never planned. [ticks]
    held + (left − held) × a, the second rounded up to 0.01 ft or 1 mm.

    A cut by marks takes need ÷ (1 − a): lengths that add up to more than the rest × (1 − a) run past the core. No more
    than `held` on a reel without marks, and once the reel has its own factor.
    """
    held = min(held, books.left)
    if not reel.has_marks or books.factor is not None:
        return held
    step = TOLD_STEP[reel.unit]
    return min(books.left, held + ceil((books.left - held) * allowance / step) * step)
