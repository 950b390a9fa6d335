"""
The books of a reel as an interval of printed marks: what its cuts and the pieces that came off it take of it.

Every cut takes cable from the outer end, so all a reel's books follow from intervals of marks: what is left, what went
unlogged, which records dispute the same cable. Nothing here depends on the order in which the records arrived. What a
reel and all pieces off it say of each other is put together in `family`.

Marks are whole ticks (1/10 000) of the mark's unit, lengths whole ticks (1/10 000 mm).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from fractions import Fraction
from math import ceil, floor

from reels.ledger.marks.printed import (
    EARLIEST,
    LENGTH_PER_MARK,
    CutMarks,
    Interval,
    MarksError,
    Piece,
    ReelMarks,
    Showing,
)

# Taped length from which on a reel has a factor of its own: an inch of misreading is then less than 0.1 %. [ticks]
FACTOR_FROM = {"ft": 100 * 3_048_000, "m": 30 * 10_000_000}
# A tape that is off its marks by more was mistyped, or read off another cut: it gives no factor.
MISTYPED = Fraction(5, 100)

# Lengths that come from a factor or an allowance are estimates: they are told in steps of 0.01 ft or 1 mm. [ticks]
TOLD_STEP = {"ft": 30_480, "m": 10_000}

LATEST = datetime(9999, 12, 31, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Claim:
    """
    Cable of a reel that a record says is gone from it.

    name : the id of a cut, or the tag of a piece. own : by a record of this reel, not of one that it came off.
    """

    at: Interval
    name: str
    when: datetime
    piece: bool = False
    own: bool = True


@dataclass(frozen=True, slots=True)
class Dispute:
    """
    Two records that claim the same cable: ids of cuts, or tags of `pieces`.

    `first` sorts before `second`; `over` is what both claim.
    """

    first: str
    second: str
    over: Interval
    pieces: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Contradiction:
    """
    A mark read at an end of the cable, and a cut or piece that lies beyond it, by their names.

    reading : "" where the cable ended. by : how far. [mark ticks]
    """

    reading: str
    claim: str
    by: int


@dataclass(frozen=True, slots=True)
class Kin:
    """
    What the family of a reel says of it: of the reel that it came off, and of all that has its marks.

    factor : of the family. scale : its length by tape over that by its marks, of a piece that was taped.
    claims : what records of the reels that it came off take of it. beyond : what they take besides, of no certain
    place. [mark ticks, or ticks without marks]
    """

    factor: Fraction | None = None
    scale: Fraction | None = None
    claims: tuple[Claim, ...] = ()
    beyond: int = 0


@dataclass(frozen=True, slots=True)
class ReelBooks:
    """
    What the records say of a reel.

    All of it is accounted for: what it held = taken + cut_marks + given + all of unlogged + readings + beyond +
    left_marks − overdrawn.

    cut_marks : what the cuts with marks cover, cable claimed twice counted once. [mark ticks]
    unlogged : cable that is gone from the outer end with no record of where it went, by depth.
    readings : gaps between cuts that are smaller than a reading, together: neither cut nor gone. [mark ticks]
    unlogged_marks : the same, less what cuts without marks account for. [mark ticks]
    beyond : what cuts without marks took from beyond the innermost recorded mark. [mark ticks]
    left_marks : marks that are left. [mark ticks]
    outermost : the depth at which the cable left on the reel begins. [mark ticks]
    overdrawn : what the records take beyond all that the reel holds. [mark ticks, or ticks on a reel without marks]
    left : length that is left, by the marks and the reel's factor, rounded down to 0.01 ft or 1 mm where there is one;
        received less cut on a reel without marks; of a piece that was taped as much of its tape. [ticks]
    disputes : cuts and pieces that overlap by a reading or more, by where they begin.
    factor : taped length over length by marks of the cuts that have both; None until they prove one (`proven_factor`).
    lengths : each cut's length: taped, else by the marks and the factor. [ticks]
    whole : nothing is known to have been cut from it.
    given : what pieces with tags of their own hold of it. taken : what records of the reel that it came off take of it.
        [mark ticks, or ticks on a reel without marks]
    from_pieces : what its records take that only pieces off it can have given. [as overdrawn]
    contradicted : marks read at its ends that its cuts contradict.
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
    given: int = 0
    taken: int = 0
    from_pieces: int = 0
    contradicted: tuple[Contradiction, ...] = ()

    @property
    def disputed(self) -> frozenset[str]:
        """Ids of all cuts that another record disputes."""
        return frozenset(
            name for each in self.disputes for name in (each.first, each.second) if name not in each.pieces
        )


def reel_books(
    reel: ReelMarks,
    cuts: Iterable[CutMarks],
    reading: int = 0,
    pieces: Iterable[Piece] = (),
    showings: Iterable[Showing] = (),
    kin: Kin | None = None,
) -> ReelBooks:
    """
    Work out a reel's books from its cuts and the pieces off it, in whatever order they come.

    reading : what two people read differently of one mark. [ticks] Cuts that overlap or leave a gap by less are as they
    should be. showings : marks read at its outer end. kin : what its family says; without it the reel stands alone.

    A cut without marks that was made no earlier than the innermost cut with marks lies beyond it; an earlier one lies
    in the unlogged cable, and what does not fit there is taken to lie beyond as well, so that what is left is never
    overstated. A piece that holds the core came last. Raises MarksError when a cut does not lie on the reel.
    """
    in_order = sorted(cuts, key=lambda cut: cut.id)
    off = sorted(pieces, key=lambda piece: piece.tag)
    if not reel.has_marks:
        return _books_by_length(reel, in_order, off, kin)
    claims = [*own_claims(reel, in_order, off), *(kin.claims if kin else ())]
    claims.sort(key=by_place)
    factor = kin.factor if kin else proven_factor(reel.unit, taped_and_marked(reel, in_order), reading)
    least = ceil(reading / LENGTH_PER_MARK[reel.unit])
    shown = [(reel.depth(showing.mark), showing) for showing in showings]
    innermost, last = _innermost(claims, shown)
    gaps, covered = _gaps(claims, innermost)
    unlogged = [gap for gap in gaps if gap.size >= least]
    tape = kin.scale if kin else None
    per_tick = LENGTH_PER_MARK[reel.unit] * (tape or factor or 1)
    before, after = 0, kin.beyond if kin else 0
    for taped, when in _unplaced(reel, in_order, off):
        size = ceil(taped / per_tick)
        if last is not None and when < last:
            before += size
        else:
            after += size
    gone = sum(interval.size for interval in unlogged)
    beyond = after + max(0, before - gone)
    held = max(reel.held, innermost)
    left_marks = max(0, held - innermost - beyond)
    left, step = floor(left_marks * per_tick), TOLD_STEP[reel.unit]
    taken = _gaps([claim for claim in claims if not claim.own])[1]
    cut_or_taken = _gaps([claim for claim in claims if not (claim.own and claim.piece)])[1]
    return ReelBooks(
        cut_marks=cut_or_taken - taken,
        unlogged=tuple(unlogged),
        readings=sum(gap.size for gap in gaps) - gone,
        unlogged_marks=max(0, gone - before),
        beyond=beyond,
        left_marks=left_marks,
        outermost=min(held, innermost + beyond),
        overdrawn=max(0, innermost + beyond - held),
        left=left // step * step if (tape or factor) and not (tape and left_marks == reel.span) else left,
        disputes=_disputes(claims, least),
        factor=factor,
        lengths={cut.id: _length(reel, cut, per_tick) for cut in in_order},
        whole=not (in_order or off or (kin and kin.claims)),
        given=covered - cut_or_taken,
        taken=taken,
        contradicted=tuple(_contradicted(reel, claims, shown, least)),
    )


def by_place(claim: Claim) -> tuple[int, int, str]:
    """Return what claims are sorted by: where they begin."""
    return claim.at.start, claim.at.end, claim.name


def own_claims(reel: ReelMarks, cuts: Iterable[CutMarks], pieces: Iterable[Piece] = ()) -> list[Claim]:
    """Return what the cuts with marks, and pieces whose marks lie on the reel, claim of it. Raises MarksError."""
    claims = [
        Claim(reel.interval(cut.outer, cut.inner), cut.id, cut.at)
        for cut in cuts
        if cut.outer is not None and cut.inner is not None
    ]
    for piece in pieces:
        at = place_of(reel, piece)
        if at is not None:
            # What was left at the core was taken off after all cuts; of any other piece nobody knows.
            claims.append(Claim(at, piece.tag, LATEST if at.end >= reel.held else EARLIEST, piece=True))
    return claims


def place_of(reel: ReelMarks, piece: Piece) -> Interval | None:
    """Return where a piece lay on the reel; None where its marks do not tell."""
    if not reel.has_marks or piece.outer is None or piece.inner is None:
        return None
    try:
        return reel.interval(piece.outer, piece.inner)
    except MarksError:
        return None


def overlaps(claims: Sequence[Claim]) -> Iterator[tuple[Claim, Claim, Interval]]:
    """Yield each two claims on the same cable, and what both claim. claims : sorted by place."""
    for number, claim in enumerate(claims):
        for other in claims[number + 1 :]:
            if other.at.start >= claim.at.end:
                break
            yield claim, other, Interval(other.at.start, min(claim.at.end, other.at.end))


def taped_and_marked(reel: ReelMarks, cuts: Iterable[CutMarks]) -> list[tuple[Fraction, int]]:
    """Return the length by marks and by tape of the cuts that have both. [ticks]"""
    return [
        (reel.interval(cut.outer, cut.inner).size * LENGTH_PER_MARK[reel.unit], cut.taped)
        for cut in cuts
        if cut.outer is not None and cut.inner is not None and cut.taped
    ]


def mistyped(by_marks: Fraction, taped: int) -> bool:
    """Return whether a tape is further off its marks than any cable's marks are. [ticks]"""
    return abs(taped - by_marks) > MISTYPED * by_marks


def proven_factor(unit: str, measured: Iterable[tuple[Fraction, int]], reading: int) -> Fraction | None:
    """
    Return what a length by marks is really, once taped cuts prove it; None until then.

    measured : length by marks and by tape. [ticks]
    They add up to 100 ft or 30 m. A factor above 1 makes later cuts shorter by the marks, and one mark misread at the
    start of a reel would make all of them too short: it needs two cuts that agree with it, each within a reading.
    """
    both = [(by_marks, taped) for by_marks, taped in measured if not mistyped(by_marks, taped)]
    taped = sum(length for _, length in both)
    if taped < FACTOR_FROM[unit]:
        return None
    factor = Fraction(taped) / sum(by_marks for by_marks, _ in both)
    agree = [length for by_marks, length in both if abs(by_marks * factor - length) <= reading]
    return factor if factor <= 1 or len(agree) >= 2 else None


def _unplaced(reel: ReelMarks, cuts: Iterable[CutMarks], pieces: Iterable[Piece]) -> Iterator[tuple[int, datetime]]:
    """Yield the length and moment of what came off the reel at no known marks. [ticks]"""
    for cut in cuts:
        if cut.outer is None and cut.taped is not None:
            yield cut.taped, cut.at
    for piece in pieces:
        if place_of(reel, piece) is None:
            yield piece.length, LATEST


def _innermost(claims: Iterable[Claim], shown: Iterable[tuple[int, Showing]]) -> tuple[int, datetime | None]:
    """Return the depth of the innermost record, and when that was made last."""
    ends = [(claim.at.end, claim.when) for claim in claims]
    return max([*ends, *((depth, showing.at) for depth, showing in shown)], default=(0, None))


def _contradicted(
    reel: ReelMarks, claims: Iterable[Claim], shown: Iterable[tuple[int, Showing]], least: int
) -> Iterator[Contradiction]:
    """Yield marks read at the outer end after cuts further in, by when, and cuts beyond where the cable ended."""
    for depth, showing in sorted(shown, key=lambda pair: (pair[1].at, pair[1].id)):
        for claim in claims:
            if claim.when < showing.at and claim.at.end - depth >= max(1, least):
                yield Contradiction(showing.id, claim.name, claim.at.end - depth)
    for claim in claims:
        if reel.end is not None and claim.at.end - reel.held >= max(1, least):
            yield Contradiction("", claim.name, claim.at.end - reel.held)


def _length(reel: ReelMarks, cut: CutMarks, per_tick: Fraction) -> int:
    if cut.taped is not None or cut.outer is None or cut.inner is None:
        return cut.taped or 0
    return floor(reel.interval(cut.outer, cut.inner).size * per_tick)


def _gaps(claims: Sequence[Claim], innermost: int = 0) -> tuple[list[Interval], int]:
    """Return what lies outside the innermost record and no claim covers, and how much they cover."""
    gaps, reached, covered = [], 0, 0
    for claim in claims:
        if claim.at.start > reached:
            gaps.append(Interval(reached, claim.at.start))
        if claim.at.end > reached:
            covered += claim.at.end - max(reached, claim.at.start)
            reached = claim.at.end
    if innermost > reached:
        gaps.append(Interval(reached, innermost))
    return gaps, covered


def _disputes(claims: Sequence[Claim], least: int) -> tuple[Dispute, ...]:
    found = []
    for claim, other, over in overlaps(claims):
        if over.size >= least:
            first, second = sorted((claim.name, other.name))
            pieces = frozenset(each.name for each in (claim, other) if each.piece)
            found.append(Dispute(first, second, over, pieces))
    return tuple(found)


def _books_by_length(reel: ReelMarks, cuts: list[CutMarks], pieces: list[Piece], kin: Kin | None) -> ReelBooks:
    for cut in cuts:
        if cut.taped is None:
            raise MarksError("a cut off a reel without marks needs a taped length")
    lengths = {cut.id: cut.taped for cut in cuts if cut.taped is not None}
    given, taken = sum(piece.length for piece in pieces), kin.beyond if kin else 0
    gone = sum(lengths.values()) + given + taken
    return ReelBooks(
        cut_marks=0,
        unlogged=(),
        readings=0,
        unlogged_marks=0,
        beyond=0,
        left_marks=0,
        outermost=0,
        overdrawn=max(0, gone - reel.length),
        left=max(0, reel.length - gone),
        disputes=(),
        factor=None,
        lengths=lengths,
        whole=not (cuts or pieces),
        given=given,
        taken=taken,
    )
