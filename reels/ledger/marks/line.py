"""
A reel as an interval of printed marks, and what its cuts say about it.

Every cut takes cable from the outer end, so all a reel's books follow from intervals of marks: what is left, what went
unlogged, which cuts dispute the same cable. Nothing here depends on the order in which the cuts arrived.

Marks are whole ticks (1/10 000) of the mark's unit, lengths whole ticks (1/10 000 mm). Printed marks are an aid, good
to about 1 % (a cable maker's technical note: ±1 %, no calibrated measure); a tape is believed over them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from fractions import Fraction
from math import ceil, floor

# Length ticks in one mark tick: a foot is 304.8 mm exactly (NIST SP 811), a metre 1000 mm.
LENGTH_PER_MARK = {"ft": Fraction(3048, 10), "m": Fraction(1000)}

# Taped length from which on a reel has a factor of its own: an inch of misreading is then less than 0.1 %. [ticks]
FACTOR_FROM = {"ft": 100 * 3_048_000, "m": 30 * 10_000_000}
# A tape that is off its marks by more was mistyped, or read off another cut: it gives no factor.
MISTYPED = Fraction(5, 100)

# Lengths that come from a factor or an allowance are estimates: they are told in steps of 0.01 ft or 1 mm. [ticks]
TOLD_STEP = {"ft": 30_480, "m": 10_000}


class MarksError(ValueError):
    """A mark that does not lie on the reel, or a reel whose two marks are the same."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Cable between two depths: mark ticks from the reel's outer mark inward. `start` is below `end`."""

    start: int
    end: int

    @property
    def size(self) -> int:
        """How much it holds. [mark ticks]"""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class ReelMarks:
    """
    A reel as it was received.

    length : as received. [ticks]
    outer, inner : printed marks at the outer end and at the core, climbing or falling; None on a reel that has none.
        [mark ticks]
    unit : unit of the marks, "ft" or "m".
    Raises MarksError when both marks are the same or only one is given.
    """

    length: int
    outer: int | None = None
    inner: int | None = None
    unit: str = "ft"

    def __post_init__(self) -> None:
        if (self.outer is None) != (self.inner is None):
            raise MarksError("a reel has an outer and an inner mark, or neither")
        if self.outer is not None and self.outer == self.inner:
            raise MarksError("the outer and the inner mark of a reel are the same")

    @property
    def has_marks(self) -> bool:
        """Whether marks are printed on it."""
        return self.outer is not None

    @property
    def span(self) -> int:
        """All of its marks. [mark ticks]; 0 without marks"""
        return 0 if self.outer is None or self.inner is None else abs(self.inner - self.outer)

    def depth(self, mark: int) -> int:
        """
        Return how far inside the outer end `mark` is. [mark ticks]

        Raises MarksError when it does not lie on the reel or the reel has no marks.
        """
        if self.outer is None or self.inner is None:
            raise MarksError("the reel has no printed marks")
        depth = mark - self.outer if self.inner > self.outer else self.outer - mark
        if not 0 <= depth <= self.span:
            raise MarksError("the mark does not lie on the reel")
        return depth

    def mark_at(self, depth: int) -> int:
        """Return the printed mark at a depth. [mark ticks] Raises MarksError when the reel has no marks."""
        if self.outer is None or self.inner is None:
            raise MarksError("the reel has no printed marks")
        return self.outer + depth if self.inner > self.outer else self.outer - depth

    def interval(self, outer: int, inner: int) -> Interval:
        """
        Return what lies between two marks, whichever of them is named first.

        Raises MarksError when a mark does not lie on the reel or both are the same.
        """
        start, end = sorted((self.depth(outer), self.depth(inner)))
        if start == end:
            raise MarksError("a cut needs two different marks")
        return Interval(start, end)

    def by_marks(self, size: int) -> int:
        """Return a number of mark ticks as a length, the marks taken at their word, rounded down. [ticks]"""
        return floor(size * LENGTH_PER_MARK[self.unit])


@dataclass(frozen=True, slots=True)
class CutMarks:
    """
    A length that was taken off a reel.

    id : names it.
    outer, inner : the printed marks it lay between; None where nobody read them. [mark ticks]
    taped : its length by a tape; None where nobody taped it. One of the two is there. [ticks]
    at : when it was cut; only tells where a cut without marks lay.
    """

    id: str
    outer: int | None = None
    inner: int | None = None
    taped: int | None = None
    at: datetime = datetime(1, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Dispute:
    """Two cuts that claim the same cable. `first` sorts before `second`; `over` is what both claim."""

    first: str
    second: str
    over: Interval


@dataclass(frozen=True, slots=True)
class ReelBooks:
    """
    What the records say of a reel.

    All of it is accounted for: span = cut_marks + all of unlogged + readings + beyond + left_marks − overdrawn.

    cut_marks : what the cuts with marks cover, cable claimed twice counted once. [mark ticks]
    unlogged : cable that is gone from the outer end with no record of where it went, by depth.
    readings : gaps between cuts that are smaller than a reading, together: neither cut nor gone. [mark ticks]
    unlogged_marks : the same, less what cuts without marks account for. [mark ticks]
    beyond : what cuts without marks took from beyond the innermost recorded mark. [mark ticks]
    left_marks : marks that are left. [mark ticks]
    outermost : the depth at which the cable left on the reel begins. [mark ticks]
    overdrawn : what the records take beyond all that the reel holds. [mark ticks, or ticks on a reel without marks]
    left : length that is left, by the marks and the reel's factor, rounded down to 0.01 ft or 1 mm where there is one;
        received less cut on a reel without marks. [ticks]
    disputes : cuts that overlap by a reading or more, by where they begin.
    factor : taped length over length by marks of the cuts that have both; None until they prove one (`_factor`).
    lengths : each cut's length: taped, else by the marks and the factor. [ticks]
    whole : nothing is known to have been cut from it.
    """

    cut_marks: int
    unlogged: tuple[Interval, ...]
    readings: int
    unlogged_marks: int
    beyond: int
    left_marks: int
    outermost: int
    overdrawn: int
    left: int
    disputes: tuple[Dispute, ...]
    factor: Fraction | None
    lengths: dict[str, int] = field(default_factory=dict)
    whole: bool = True

    @property
    def disputed(self) -> frozenset[str]:
        """Ids of all cuts that another cut disputes."""
        return frozenset(name for dispute in self.disputes for name in (dispute.first, dispute.second))


def reel_books(reel: ReelMarks, cuts: Iterable[CutMarks], reading: int = 0) -> ReelBooks:
    """
    Work out a reel's books from its cuts, in whatever order they come.

    reading : what two people read differently of one mark. [ticks] Cuts that overlap or leave a gap by less are as they
    should be.

    A cut without marks that was made no earlier than the innermost cut with marks lies beyond it; an earlier one lies
    in the unlogged cable, and what does not fit there is taken to lie beyond as well, so that what is left is never
    overstated. Raises MarksError when a cut does not lie on the reel.
    """
    in_order = sorted(cuts, key=lambda cut: cut.id)
    if not reel.has_marks:
        return _books_by_length(reel, in_order)
    placed = [
        (reel.interval(cut.outer, cut.inner), cut)
        for cut in in_order
        if cut.outer is not None and cut.inner is not None
    ]
    placed.sort(key=lambda pair: (pair[0].start, pair[0].end, pair[1].id))
    factor = _factor(reel, placed, reading)
    least = ceil(reading / LENGTH_PER_MARK[reel.unit])
    gaps, covered = _gaps(placed)
    unlogged = [gap for gap in gaps if gap.size >= least]
    innermost = max((interval.end for interval, _ in placed), default=0)
    last = max((cut.at for interval, cut in placed if interval.end == innermost), default=None)
    per_tick = LENGTH_PER_MARK[reel.unit] * (factor or 1)
    before = after = 0
    for cut in in_order:
        if cut.outer is None and cut.taped is not None:
            size = ceil(cut.taped / per_tick)
            if last is not None and cut.at < last:
                before += size
            else:
                after += size
    gone = sum(interval.size for interval in unlogged)
    beyond = after + max(0, before - gone)
    left_marks = max(0, reel.span - innermost - beyond)
    left, step = floor(left_marks * per_tick), TOLD_STEP[reel.unit]
    lengths = {cut.id: _length(interval, cut, per_tick) for interval, cut in placed}
    lengths |= {cut.id: cut.taped for cut in in_order if cut.id not in lengths and cut.taped is not None}
    return ReelBooks(
        cut_marks=covered,
        unlogged=tuple(unlogged),
        readings=sum(gap.size for gap in gaps) - gone,
        unlogged_marks=max(0, gone - before),
        beyond=beyond,
        left_marks=left_marks,
        outermost=min(reel.span, innermost + beyond),
        overdrawn=max(0, innermost + beyond - reel.span),
        left=left if factor is None else left // step * step,
        disputes=_disputes(placed, least),
        factor=factor,
        lengths=lengths,
        whole=not in_order,
    )


@dataclass(frozen=True, slots=True)
class SetCut:
    """
    A conductor of a set as it was cut. [ticks]

    taped : its taped length. by_marks : its length by the marks, which a reel and all pieces off it share, a `family`.
    """

    conductor: str
    family: str
    taped: int | None = None
    by_marks: int | None = None

    def between(self, allowance: Fraction) -> tuple[Fraction, Fraction] | None:
        """Return the least and the most that it can be, its marks off by the allowance; None where nobody measured."""
        if self.taped is not None:
            return Fraction(self.taped), Fraction(self.taped)
        if self.by_marks is None:
            return None
        return self.by_marks * (1 - allowance), self.by_marks * (1 + allowance)


@dataclass(frozen=True, slots=True)
class SetComparison:
    """
    How alike the conductors of a set are.

    by : "tape", "one reel", "marks" of two reels, or "" when it cannot be verified.
    spread : longest less shortest; the least that it can be, where that proves them unequal. [ticks]; None when it
    cannot be verified.
    equal : whether the spread is within the tolerance; None when it cannot be verified.
    """

    by: str
    spread: int | None
    equal: bool | None

    def __str__(self) -> str:
        if self.equal is None:
            return "cannot be verified"
        return f"{'equal' if self.equal else 'not equal'} by {self.by}"


def compare_set(cuts: Sequence[SetCut], tolerance: int, allowance: Fraction) -> SetComparison:
    """
    Compare the conductors of a set: by tape, or by the marks of one family of reels.

    Marks of two families may each be off by the allowance: they prove no set equal. Two conductors that differ by more
    than the tolerance, however far off their marks are, prove it unequal. tolerance : [ticks]
    """
    taped = [cut.taped for cut in cuts if cut.taped is not None]
    marked = [cut.by_marks for cut in cuts if cut.by_marks is not None]
    if cuts and len(taped) == len(cuts):
        return _comparison("tape", taped, tolerance)
    if cuts and len(marked) == len(cuts) and len({cut.family for cut in cuts}) == 1:
        return _comparison("one reel", marked, tolerance)
    apart, by = max(
        (_apart(one, other, allowance) for place, one in enumerate(cuts) for other in cuts[place + 1 :]),
        default=(0, ""),
    )
    return SetComparison(by, apart, equal=False) if apart > tolerance else SetComparison("", None, equal=None)


def _apart(one: SetCut, other: SetCut, allowance: Fraction) -> tuple[int, str]:
    """Return the least by which two conductors differ, and what tells it. [ticks]"""
    if one.taped is not None and other.taped is not None:
        return abs(one.taped - other.taped), "tape"
    if one.family == other.family and one.by_marks is not None and other.by_marks is not None:
        return floor(abs(one.by_marks - other.by_marks) * (1 - allowance)), "one reel"
    first, second = one.between(allowance), other.between(allowance)
    if first is None or second is None:
        return 0, ""
    below, above = first[0] - second[1], second[0] - first[1]
    return max(0, floor(below), floor(above)), "marks"


def _comparison(by: str, lengths: list[int], tolerance: int) -> SetComparison:
    spread = max(lengths) - min(lengths)
    return SetComparison(by=by, spread=spread, equal=spread <= tolerance)


def _length(interval: Interval, cut: CutMarks, per_tick: Fraction) -> int:
    return cut.taped if cut.taped is not None else floor(interval.size * per_tick)


def mistyped(by_marks: Fraction, taped: int) -> bool:
    """Return whether a tape is further off its marks than any cable's marks are. [ticks]"""
    return abs(taped - by_marks) > MISTYPED * by_marks


def _factor(reel: ReelMarks, placed: list[tuple[Interval, CutMarks]], reading: int) -> Fraction | None:
    """
    Return what a length by marks is really, once taped cuts prove it; None until then.

    They add up to 100 ft or 30 m. A factor above 1 makes later cuts shorter by the marks, and one mark misread at the
    start of a reel would make all of them too short: it needs two cuts that agree with it, each within a reading.
    """
    per_mark = LENGTH_PER_MARK[reel.unit]
    both = [
        (interval.size * per_mark, cut.taped)
        for interval, cut in placed
        if cut.taped and not mistyped(interval.size * per_mark, cut.taped)
    ]
    taped = sum(length for _, length in both)
    if taped < FACTOR_FROM[reel.unit]:
        return None
    factor = Fraction(taped) / sum(by_marks for by_marks, _ in both)
    agree = [length for by_marks, length in both if abs(by_marks * factor - length) <= reading]
    return factor if factor <= 1 or len(agree) >= 2 else None


def _gaps(placed: list[tuple[Interval, CutMarks]]) -> tuple[list[Interval], int]:
    """Return what lies between the outer end and the innermost cut with no record, and what the cuts cover."""
    gaps, reached, covered = [], 0, 0
    for interval, _ in placed:
        if interval.start > reached:
            gaps.append(Interval(reached, interval.start))
        if interval.end > reached:
            covered += interval.end - max(reached, interval.start)
            reached = interval.end
    return gaps, covered


def _disputes(placed: list[tuple[Interval, CutMarks]], least: int) -> tuple[Dispute, ...]:
    found = []
    for place, (interval, cut) in enumerate(placed):
        for other, later in placed[place + 1 :]:
            if other.start >= interval.end:
                break
            over = Interval(other.start, min(interval.end, other.end))
            if over.size >= least:
                first, second = sorted((cut.id, later.id))
                found.append(Dispute(first, second, over))
    return tuple(found)


def _books_by_length(reel: ReelMarks, cuts: list[CutMarks]) -> ReelBooks:
    for cut in cuts:
        if cut.taped is None:
            raise MarksError("a cut off a reel without marks needs a taped length")
    lengths = {cut.id: cut.taped for cut in cuts if cut.taped is not None}
    taken = sum(lengths.values())
    return ReelBooks(
        cut_marks=0,
        unlogged=(),
        readings=0,
        unlogged_marks=0,
        beyond=0,
        left_marks=0,
        outermost=0,
        overdrawn=max(0, taken - reel.length),
        left=max(0, reel.length - taken),
        disputes=(),
        factor=None,
        lengths=lengths,
        whole=not cuts,
    )
