"""The stretches of one reel from the outer end to the core, to be drawn and in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from reels.field.marks_strip import Stretch, without
from reels.ledger.entries import ReelEntry
from reels.ledger.marks.printed import Interval, MarksError
from reels.ledger.marks.reading import Hands, marks_per_length
from reels.ledger.models import Cut, Reel
from reels.plans.pages.strips import patterns_of
from reels.plans.queries import CutLine
from takeoff.units.exact import to_ticks

WORDS = {
    "unlogged": "not written down",
    "disputed": "two records overlap",
    "remnant": "left: a remnant",
    "scrap": "left: scrap",
    "tail": "tail, not planned",
}


@dataclass(frozen=True, slots=True)
class ReelPart:
    """
    A stretch of the reel in words.

    what : what it is. begins, ends : its marks as hands find them, empty where it has none. length : [ticks]
    cut, piece : the cut that it was, the piece that it is now.
    """

    kind: str
    what: str
    begins: str
    ends: str
    length: int
    pattern: int = 0
    cut: Cut | None = None
    piece: Reel | None = None


Pair = tuple[Stretch, ReelPart]


def cut_for(cut: Cut) -> str:
    """Return what a cut was for, in words."""
    return str(cut.conductor) if cut.conductor else cut.get_purpose_display().lower()


def parts_of(
    entry: ReelEntry, lines: Sequence[CutLine], pieces: Sequence[Reel], hands: Hands
) -> tuple[list[Stretch], tuple[ReelPart, ...]]:
    """
    Return the stretches of a reel to draw, overlaps last, and the same in words from the outer end inward.

    lines : what the accepted plan cuts off it. pieces : what came off it and has a tag of its own.
    """
    patterns = patterns_of([[line.planned.conductor.run.name for line in lines]])
    placed = _Placed(entry, hands, patterns)
    found = list(placed.cuts()) if entry.marks.has_marks else list(placed.by_length())
    found += placed.pieces(pieces)
    found += placed.planned(lines)
    found += placed.rest(found)
    found += placed.overlaps()
    in_order = sorted(found, key=lambda pair: (pair[0].at.start, pair[0].kind == "disputed"))
    drawn = sorted((stretch for stretch, _ in found), key=lambda each: each.kind == "disputed")
    return drawn, tuple(part for _, part in in_order)


class _Placed:
    """Lays out what is known of a reel."""

    def __init__(self, entry: ReelEntry, hands: Hands, patterns: dict[str, int]) -> None:
        self.entry, self.hands, self.patterns = entry, hands, patterns
        self.marks, self.books = entry.marks, entry.books
        self.whole = self.marks.held if self.marks.has_marks else to_ticks(entry.reel.length)

    def pair(
        self,
        kind: str,
        at: Interval,
        what: str,
        length: int,
        label: str = "",
        pattern: int = 0,
        cut: Cut | None = None,
        piece: Reel | None = None,
    ) -> Pair:
        """Return a stretch with its words."""
        begins, ends = (self.told(at.start), self.told(at.end)) if self.marks.has_marks else ("", "")
        part = ReelPart(kind, what, begins, ends, length, pattern=pattern, cut=cut, piece=piece)
        return Stretch(kind, at, label, what, pattern), part

    def told(self, depth: int) -> str:
        """Return the printed mark at a depth as hands find it."""
        return self.hands.told(self.marks.mark_at(depth), self.marks)

    def lies(self, thing: Cut | Reel) -> Interval | None:
        """Return where a cut or piece lies, None where it has no marks, or the reel's were set otherwise since."""
        if thing.outer_mark is None or thing.inner_mark is None or not self.marks.has_marks:
            return None
        try:
            return self.marks.interval(to_ticks(thing.outer_mark), to_ticks(thing.inner_mark))
        except MarksError:
            return None

    def by_marks(self, at: Interval) -> int:
        """Return a stretch as a length, by the reel's factor where it has one. [ticks]"""
        if not self.marks.has_marks:
            return at.size
        return round(self.marks.by_marks(at.size) * (self.books.factor or 1))

    def cuts(self) -> Iterator[Pair]:
        """Yield what was cut between marks, and what lies between that nobody wrote down."""
        for cut in self.entry.cuts:
            at = self.lies(cut)
            if at is None:
                continue  # told among those with no place
            yield self.pair("cut", at, self.what(cut), self.books.lengths[cut.event_id], cut_for(cut), cut=cut)
        for gap in self.books.unlogged:
            yield self.pair("unlogged", gap, WORDS["unlogged"], self.by_marks(gap), WORDS["unlogged"])

    def by_length(self) -> Iterator[Pair]:
        """Yield what was cut off a reel without marks, one after the other."""
        reached = 0
        for cut in sorted(self.entry.cuts, key=lambda cut: (cut.at, cut.pk)):
            length = self.books.lengths[cut.event_id]
            at = Interval(reached, reached + length)
            reached = at.end
            yield self.pair("cut", at, self.what(cut), length, cut_for(cut), cut=cut)

    def what(self, cut: Cut) -> str:
        """Return what a cut was for, and that it failed or was accepted."""
        decided = self.entry.decided.get(cut.pk, frozenset())
        return ", ".join([cut_for(cut), *sorted(decided)])

    def pieces(self, pieces: Sequence[Reel]) -> Iterator[Pair]:
        """Yield what came off it as a remnant with a tag of its own."""
        for piece in pieces:
            at = self.lies(piece)
            if at is None or getattr(piece, "withdrawn_from", None) is not None:  # that lies where its cut does
                continue
            yield self.pair("piece", at, f"{piece.tag}, off the reel", to_ticks(piece.length), piece.tag, piece=piece)

    def planned(self, lines: Sequence[CutLine]) -> Iterator[Pair]:
        """Yield what the accepted plan cuts, where marks can tell; on a reel without marks by length."""
        reached = self.books.outermost if self.marks.has_marks else self.whole - self.entry.left
        for line in lines:
            mark = line.mark
            if mark is not None and mark.from_mark is not None and mark.to_mark is not None:
                at = Interval(self.marks.depth(mark.from_mark), self.marks.depth(mark.to_mark))
            elif not self.marks.has_marks:
                at = Interval(reached, min(self.whole, reached + line.need))
            else:
                continue
            reached = at.end
            name = line.planned.conductor.run.name
            pattern = self.patterns.get(name, 0)
            what = f"planned: {line.planned.conductor}"
            yield self.pair("planned", at, what, line.need, str(line.planned.conductor), pattern=pattern)

    def rest(self, found: Sequence[Pair]) -> Iterator[Pair]:
        """Yield what stays at the core: what is kept or scrap, and the tail."""
        if self.entry.reel.state in {Reel.State.EMPTY, Reel.State.RETURNED} or self.entry.left <= 0:
            return
        outermost = self.books.outermost if self.marks.has_marks else self.whole - self.entry.left
        free = without(Interval(outermost, self.whole), [stretch.at for stretch, _ in found])
        tail = self.entry.tail
        if self.marks.has_marks:
            tail = round(tail * marks_per_length(self.marks, self.books, Fraction(0)))
        keep = to_ticks(self.entry.reel.site.keep_length)
        for at in free:
            start = max(at.start, min(at.end, self.whole - tail))
            body, end = Interval(at.start, start), Interval(start, at.end)
            kind = "remnant" if self.by_marks(at) >= keep else "scrap"
            if body.size:
                yield self.pair(kind, body, WORDS[kind], self.by_marks(body), "left")
            if end.size:
                yield self.pair("tail", end, WORDS["tail"], self.by_marks(end))

    def overlaps(self) -> Iterator[Pair]:
        """Yield what two records claim."""
        named = {cut.event_id: cut_for(cut) for cut in self.entry.cuts}
        for dispute in self.books.disputes:
            both = " and ".join(named.get(name, name) for name in (dispute.first, dispute.second))
            what = f"{WORDS['disputed']}: {both}"
            yield self.pair("disputed", dispute.over, what, self.by_marks(dispute.over))
