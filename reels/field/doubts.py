"""
All there is to look at about reels and cuts: worked out from the records whenever it is shown, never stored.

A planner may say of one "seen", with a reason; it comes again once what it is about changes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from fractions import Fraction

from django.db.models import F, Q

from reels.field.models import DoubtSeen
from reels.field.reel_parts import cut_for
from reels.ledger.checks import tape_against_marks
from reels.ledger.entries import ReelEntry
from reels.ledger.marks.reading import Hands
from reels.ledger.models import Cut, CutDecision, Reel
from reels.ledger.queries import hands_of, reel_entries, reel_marks
from takeoff.records import queries
from takeoff.records.models import Record, SetAside
from takeoff.records.reported import standing
from takeoff.sites.models import Site
from takeoff.units.exact import SCALE, from_ticks, to_ticks
from takeoff.units.shown import down, exactly, fixed

KINDS = ("cuts", "cut_decisions")  # whose records, set aside, stand among the doubts
CLOCK_OFF = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class RecordSide:
    """A cut beside others: its marks as hands find them, "" where nobody read them."""

    cut: Cut
    marks: str


@dataclass(frozen=True, slots=True)
class Doubt:
    """
    Something to look at.

    key : names it, the same as long as what it is about stays. what : the kind of doubt, in words. figure : what is at
    stake. said : more of it. sides : the records that it is about, side by side. seen : by whom and why, once it was.
    """

    key: str
    what: str
    figure: str
    reel: Reel
    said: str = ""
    sides: tuple[RecordSide, ...] = ()
    seen: DoubtSeen | None = None


@dataclass(frozen=True, slots=True)
class DoubtsPage:
    """The doubts of a site: open ones, those that a planner has seen, and records of cuts that wait to be placed."""

    open: tuple[Doubt, ...]
    seen: tuple[Doubt, ...]
    aside: tuple[SetAside, ...]

    @property
    def count(self) -> int:
        """How many there are to look at."""
        return len(self.open) + len(self.aside)


def doubts_page(site: Site) -> DoubtsPage:
    """Return all there is to look at about the reels of a site, in a constant number of queries."""
    seen = {row.doubt: row for row in standing(DoubtSeen.objects.of(site)).select_related("recorded_by")}
    found = [replace(doubt, seen=seen.get(doubt.key)) for doubt in _doubts(site)]
    aside = queries.waiting(site).filter(record__kind__in=KINDS)
    return DoubtsPage(
        open=tuple(doubt for doubt in found if doubt.seen is None),
        seen=tuple(doubt for doubt in found if doubt.seen is not None),
        aside=tuple(aside),
    )


def _doubts(site: Site) -> Iterator[Doubt]:
    entries, hands = reel_entries(site), hands_of(site)
    for entry in entries:
        yield from _of_marks(entry, hands, site)
        yield from _of_factor(entry, site)
        for cut in entry.cuts:
            for said in tape_against_marks(site, cut):
                key = f"tape against marks {cut.event_id}"
                figure = exactly(to_ticks(cut.length), site.unit)
                yield Doubt(key, "tape against marks", figure, entry.reel, said, _sides(hands, cut))
    yield from _cut_before(entries, hands)
    yield from _clock_off(site, hands, {cut.event_id: cut for entry in entries for cut in entry.cuts})


def _of_marks(entry: ReelEntry, hands: Hands, site: Site) -> Iterator[Doubt]:
    """Yield overlaps, what nobody wrote down, and what was taken beyond all that a reel held."""
    reel, marks, books = entry.reel, entry.marks, entry.books
    cuts = {cut.event_id: cut for cut in entry.cuts}

    def between(start: int, end: int) -> str:
        return " to ".join(hands.told(marks.mark_at(depth), marks) for depth in (start, end))

    for dispute in books.disputes:
        figure = exactly(marks.by_marks(dispute.over.size), site.unit)
        both = _sides(hands, *(cuts[name] for name in (dispute.first, dispute.second) if name in cuts))
        pieces = "".join(f" One is piece {tag}." for tag in sorted(dispute.pieces))
        said = f"Marks {between(dispute.over.start, dispute.over.end)} are in both.{pieces}"
        key = f"overlap {dispute.first} {dispute.second}"
        yield Doubt(key, "two records overlap", figure, reel, said, both)
    for gap in books.unlogged:
        key = f"not written down {reel.tag} {marks.mark_at(gap.start)} {marks.mark_at(gap.end)}"
        figure = down(marks.by_marks(gap.size), site.unit)
        yield Doubt(key, "not written down", figure, reel, f"Marks {between(gap.start, gap.end)} are gone.")
    for each in books.contradicted:
        by, claim = exactly(marks.by_marks(each.by), site.unit), _named(cuts, each.claim)
        said = f"{claim} lies beyond the mark that somebody read at the {'outer end' if each.reading else 'core'}."
        key = f"mark read {each.reading or reel.tag} {each.claim}"
        sides = _sides(hands, *(cuts[name] for name in (each.claim,) if name in cuts))
        yield Doubt(key, "a mark read contradicts a record", by, reel, said, sides)
    if books.from_pieces:
        over = marks.by_marks(books.from_pieces) if marks.has_marks else books.from_pieces
        said, what = "The records take more than the pieces off it left there.", "taken after a piece was tagged"
        yield Doubt(f"from pieces {reel.tag} {books.from_pieces}", what, exactly(over, site.unit), reel, said)
    if books.overdrawn:
        over = marks.by_marks(books.overdrawn) if marks.has_marks else books.overdrawn
        key, said = f"overdrawn {reel.tag} {books.overdrawn}", "The records take more than the reel held."
        yield Doubt(
            key, "more taken than it held", exactly(over, site.unit), reel, said, _sides(hands, *entry.cuts[-1:])
        )


def _of_factor(entry: ReelEntry, site: Site) -> Iterator[Doubt]:
    """Yield a factor further from 1 than twice what marks are off."""
    factor = entry.books.factor
    if factor is None or abs(factor - 1) <= 2 * Fraction(site.mark_allowance):
        return
    told = fixed(from_ticks(round(factor * SCALE)), 4)
    said = "Its taped cuts and its marks differ by more than marks are off: is its tag right?"
    yield Doubt(f"factor {entry.reel.tag} {told}", "factor far from 1", told, entry.reel, said)


def _cut_before(entries: Iterable[ReelEntry], hands: Hands) -> Iterator[Doubt]:
    """Yield conductors of which more than one cut stands."""
    by_conductor: dict[int, list[Cut]] = defaultdict(list)
    for entry in entries:
        for cut in entry.cuts:
            withdrawn = CutDecision.Kind.WITHDRAWN in entry.decided.get(cut.pk, ())
            if cut.conductor_id is not None and not withdrawn:
                by_conductor[cut.conductor_id].append(cut)
    for cuts in by_conductor.values():
        if len(cuts) > 1:
            ids = " ".join(sorted(cut.event_id for cut in cuts))
            said = "The same cut twice? Keep one." if _same_stretch(cuts) else "One of them serves nothing."
            what = "cut before"
            yield Doubt(
                f"{what} {ids}"[:300],
                what,
                f"{len(cuts)} × {cut_for(cuts[0])}",
                cuts[0].reel,
                said,
                _sides(hands, *cuts),
            )


def _same_stretch(cuts: Sequence[Cut]) -> bool:
    """Return whether all of them name one reel and one stretch of it."""
    return len({(cut.reel_id, cut.outer_mark, cut.inner_mark) for cut in cuts}) == 1 and cuts[0].outer_mark is not None


def _clock_off(site: Site, hands: Hands, cuts: Mapping[str, Cut]) -> Iterator[Doubt]:
    """Yield cuts that came from a device whose clock was a day off."""
    off = Q(device_at__lt=F("recorded_at") - CLOCK_OFF) | Q(device_at__gt=F("recorded_at") + CLOCK_OFF)
    for record in Record.objects.of(site).filter(off, kind=KINDS[0]).order_by("pk"):
        cut = cuts.get(record.event_id)
        if cut is not None and record.device_at is not None:
            hours = round(abs((record.device_at - record.recorded_at).total_seconds()) / 3600)
            said = f"The clock of the phone was {hours} h off when it sent this."
            yield Doubt(f"clock {cut.event_id}", "clock off", f"{hours} h", cut.reel, said, _sides(hands, cut))


def _named(cuts: Mapping[str, Cut], name: str) -> str:
    """Return a cut by what it was for, a piece by its tag."""
    return cut_for(cuts[name]) if name in cuts else f"Piece {name}"


def _sides(hands: Hands, *cuts: Cut) -> tuple[RecordSide, ...]:
    """Return records as they are shown side by side."""
    found = []
    for cut in cuts:
        told = ""
        if cut.outer_mark is not None and cut.inner_mark is not None:
            marks = reel_marks(cut.reel)
            told = " to ".join(hands.told(to_ticks(mark), marks) for mark in (cut.outer_mark, cut.inner_mark))
        found.append(RecordSide(cut, told))
    return tuple(found)
