"""A cut before it is recorded: what is said of it, whether it can be, and what a person should look at first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from django.db.models import Exists, OuterRef

from reels.ledger.marks.content import CutError, placed_marks
from reels.ledger.marks.line import ReelBooks, mistyped, reel_books
from reels.ledger.marks.printed import MarksError, ReelMarks
from reels.ledger.models import Cut, CutDecision, Reel
from reels.ledger.queries import (
    books_of_reels,
    by_reel,
    cut_marks,
    ends_read,
    known_marks,
    reading_of,
    real_cuts,
    reel_marks,
    standing_decisions,
    whole_families,
)
from takeoff.records.record_kinds import Filing
from takeoff.runs.models import Conductor
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.shown import exactly


def new_cut(site: Site, reel: Reel, marked: ReelMarks, filing: Filing, conductor: Conductor | None) -> Cut:
    """
    Return a cut that is possible, not yet saved. Raises CutError when it is not.

    marked : the reel as its marks are known. filing : marks in its unit, in either order, or `length` in mm, or both.
    """
    outer, inner, taped = (_ticks(filing[name]) for name in ("outer_mark", "inner_mark", "length"))
    marks = placed_marks(reel.tag, marked, outer=outer, inner=inner, taped=taped)
    # A ground conductor whose cable the sheets do not name may come off any reel.
    if conductor is not None and conductor.cable_id not in {None, reel.cable_id}:
        raise CutError(
            "wrong_cable",
            f"Reel {reel} holds {reel.cable}, {conductor} needs {conductor.cable}.",
            column="reel",
            found=f"{reel} with {reel.cable}",
            expected=f"a reel of {conductor.cable} for {conductor}",
        )
    by_marks = marked.by_marks(abs(marks[1] - marks[0])) if marks else 0
    return Cut(
        site=site,
        event_id=filing.id,
        content_hash=filing.hash,
        reel=reel,
        at=filing.at,
        recorded_at=filing.record.recorded_at,
        purpose=filing["purpose"],
        conductor=conductor,
        outer_mark=from_ticks(marks[0]) if marks else None,
        inner_mark=from_ticks(marks[1]) if marks else None,
        length=from_ticks(taped or by_marks),
        taped=taped is not None,
        by=filing["by"],
        recorded_by=filing.sender,
    )


def _ticks(value: Decimal | None) -> int | None:
    return None if value is None else to_ticks(value)


def cautions(site: Site, reels: Sequence[Reel], fresh: Sequence[Cut]) -> dict[str, list[str]]:
    """Return sentences on what a person should look at before each of these unsaved cuts is believed, by event id."""
    said: dict[str, list[str]] = defaultdict(list)
    if not fresh:
        return said
    conductors = {cut.conductor_id for cut in fresh if cut.conductor_id is not None}
    family = list(whole_families(site, [reel.pk for reel in reels]))
    books = books_of_reels(site, family, [*real_cuts(site).filter(reel__in=family), *fresh])
    withdrawn = standing_decisions(site).filter(cut=OuterRef("pk"), kind=CutDecision.Kind.WITHDRAWN)
    standing = real_cuts(site).filter(~Exists(withdrawn), conductor__in=conductors)
    served = set(standing.values_list("conductor_id", flat=True))
    new = {cut.event_id for cut in fresh}
    marks = known_marks(site, reels)
    for reel in reels:
        for name, sentence in _overlaps(marks[reel.pk], books[reel.pk]):
            if name in new:
                said[name].append(sentence)
    for cut in fresh:
        said[cut.event_id] += tape_against_marks(site, cut)
        if books[cut.reel_id].overdrawn:
            said[cut.event_id].append(f"The records take more from reel {cut.reel} than it held.")
        elif books[cut.reel_id].from_pieces:
            said[cut.event_id].append(f"The records take more from reel {cut.reel} than the pieces off it left there.")
        if cut.reel.state != Reel.State.ON_SITE:
            said[cut.event_id].append(f"Reel {cut.reel} is said to be {cut.reel.state}.")
        if cut.conductor is not None:
            short = to_ticks(cut.conductor.length) - books[cut.reel_id].lengths[cut.event_id]
            if short > 0:
                missing = exactly(short, site.unit)
                said[cut.event_id].append(f"It is {missing} shorter than {cut.conductor} needs and does not serve it.")
            if cut.conductor_id in served:
                said[cut.event_id].append(f"{cut.conductor} was cut before.")
            served.add(cut.conductor.pk)
    return said


def _overlaps(marked: ReelMarks, books: ReelBooks) -> Iterator[tuple[str, str]]:
    """Yield the name of each record that another contradicts, and a sentence on it."""
    for dispute in books.disputes:
        start, end = (from_ticks(marked.mark_at(depth)) for depth in (dispute.over.start, dispute.over.end))
        for name, other in ((dispute.first, dispute.second), (dispute.second, dispute.first)):
            whose = f"piece {other}" if other in dispute.pieces else f"cut {other}"
            yield name, f"Marks {start} to {end} are claimed by {whose} too: two records overlap."


def tape_against_marks(site: Site, cut: Cut) -> list[str]:
    """Say where a tape is off its marks by more than marks are off and two people misread them."""
    if not cut.taped or cut.outer_mark is None or cut.inner_mark is None:
        return []
    taped, marked = to_ticks(cut.length), reel_marks(cut.reel)
    by_marks = marked.by_marks(abs(to_ticks(cut.inner_mark) - to_ticks(cut.outer_mark)))
    if abs(taped - by_marks) <= by_marks * Fraction(site.mark_allowance) + 2 * reading_of(site):
        return []
    said = f"The tape says {exactly(taped, site.unit)}, the marks say {exactly(by_marks, site.unit)}"
    if mistyped(Fraction(by_marks), taped):
        return [f"{said}: tape it again. It tells nothing about the marks of {cut.reel}."]
    return [f"{said}: is that right?"]


def wrong_reels(site: Site, reels: Sequence[Reel]) -> dict[str, CutError]:
    """Return the reels, saved or not, whose marks are the same or contradict their cuts, each with its reason."""
    cuts = by_reel(real_cuts(site).filter(reel__in=[reel for reel in reels if reel.pk]))
    wrong: dict[str, CutError] = {}
    ends = ends_read(site)
    for reel in reels:
        try:
            reel_books(reel_marks(reel, ends.get(reel.pk)), [cut_marks(cut) for cut in cuts[reel.pk]])
        except MarksError as error:
            wrong[reel.tag] = CutError("off_reel", f"Reel {reel}: {error}.", column="outer_mark")
    return wrong
