"""
Cutting at printed marks that a crew can read: where to cut, and what that takes off a reel.

Marks are whole ticks (1/10 000) of the mark's unit, lengths whole ticks (1/10 000 mm). Until a cut of the reel was
taped every mark gets an allowance, a fraction of the length; after that its own factor rules.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from reels.ledger.marks.line import LENGTH_PER_MARK, TOLD_STEP, MarksError, ReelBooks, ReelMarks

# What a crew can read off between two printed marks with a rule: 0.1 ft, 0.01 m. [mark ticks]
READABLE_STEP = {"ft": 1000, "m": 100}


def mark_to_cut_at(reel: ReelMarks, books: ReelBooks, need: int, allowance: Fraction, *, after: int = 0) -> int | None:
    """
    Return the printed mark to cut at for a needed length, or None when the marks left do not hold it.

    need : length needed. [ticks]
    allowance : what a printed mark may be off, as a fraction; counts only until the reel has a taped cut.
    after : mark ticks that earlier cuts of the same list will have taken. [mark ticks]
    The mark is rounded away from the outer end to what a crew can read (0.1 ft, 0.01 m). [mark ticks]
    """
    if not reel.has_marks:
        return None
    start = books.outermost + after
    target = reel.mark_at(start + ceil(need * marks_per_length(reel, books, allowance)))
    step = READABLE_STEP[reel.unit]
    climbs = reel.mark_at(1) > reel.mark_at(0)
    mark = ceil(Fraction(target, step)) * step if climbs else floor(Fraction(target, step)) * step
    try:
        reel.depth(mark)
    except MarksError:
        return None
    return mark


def marks_per_length(reel: ReelMarks, books: ReelBooks, allowance: Fraction) -> Fraction:
    """Return the mark ticks to allow for one tick of length: by the reel's factor, else with the allowance."""
    plain = 1 / LENGTH_PER_MARK[reel.unit]
    return plain * (1 + allowance) if books.factor is None else plain / books.factor


def length_taken(reel: ReelMarks, books: ReelBooks, need: int, allowance: Fraction) -> int:
    """
    Return what a cut for a needed length takes off what can be relied on, when made at a mark. [ticks]

    A crew reads marks to 0.1 ft or 0.01 m, so each cut takes up to one step more than it needs. need : [ticks]
    """
    if not reel.has_marks:
        return need
    per_length, step = marks_per_length(reel, books, allowance), READABLE_STEP[reel.unit]
    return ceil(ceil(need * per_length / step) * step / per_length)


def lost_to_reading(reel: ReelMarks, books: ReelBooks, allowance: Fraction) -> int:
    """Return what the next cut takes more because the reel does not begin at a mark that a crew can read. [ticks]"""
    if not reel.has_marks:
        return 0
    start, step = reel.mark_at(books.outermost), READABLE_STEP[reel.unit]
    climbs = reel.mark_at(1) > reel.mark_at(0)
    return ceil((-start if climbs else start) % step / marks_per_length(reel, books, allowance))


def unreliable_tail(reel: ReelMarks, books: ReelBooks, allowance: Fraction, held: int) -> int:
    """
    Return how much of what is left is not to be relied on. [ticks]

    held : what the drum holds by its end, never planned. [ticks]
    held + (left − held) × a / (1 + a), the second rounded up to 0.01 ft or 1 mm.

    Every cut by marks takes up to `allowance` more than it needs: lengths that add up to more than the rest / (1 + a)
    run past the core. No more than `held` on a reel without marks, and once the reel has its own factor.
    """
    held = min(held, books.left)
    if not reel.has_marks or books.factor is not None:
        return held
    step = TOLD_STEP[reel.unit]
    return min(books.left, held + ceil((books.left - held) * allowance / (1 + allowance) / step) * step)
