"""A cut before it is recorded: what is said of it, whether it can be, and what a person should look at first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Exists, OuterRef

from reels.ledger.marks.content import CutContent, CutError, placed_marks
from reels.ledger.marks.line import MarksError, reel_books
from reels.ledger.models import Cut, CutDecision, Reel
from reels.ledger.queries import by_reel, cut_marks, real_cuts, reel_marks
from takeoff.people.models import User
from takeoff.runs.models import Conductor
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.lengths import show_length


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRecord:
    """
    A cut as it is reported: marks in the reel's unit, in either order, or `taped` in mm, or both.

    content_hash : given when whoever reports it knows its content by another hash than the ledger's own.
    """

    event_id: str
    reel: Reel
    at: datetime
    purpose: str = Cut.Purpose.CONDUCTOR
    conductor: Conductor | None = None
    outer_mark: Decimal | None = None
    inner_mark: Decimal | None = None
    taped: Decimal | None = None
    by: str = ""
    content_hash: str = ""

    @property
    def digest(self) -> str:
        """The hash by which the same record sent twice is known."""
        return self.content_hash or self.content.digest

    @property
    def content(self) -> CutContent:
        """What was said of the cut, for the hash and for the arithmetic of marks."""
        return CutContent(
            reel=self.reel.tag,
            at=self.at,
            purpose=str(self.purpose),
            conductor=None if self.conductor is None else (self.conductor.run.name, self.conductor.name),
            outer=None if self.outer_mark is None else to_ticks(self.outer_mark),
            inner=None if self.inner_mark is None else to_ticks(self.inner_mark),
            taped=None if self.taped is None else to_ticks(self.taped),
            by=self.by,
        )


@dataclass(slots=True)
class Recorded:
    """What became of a record: its cut, new or known before, with sentences for a person; or why it was refused."""

    record: CutRecord
    cut: Cut | None = None
    new: bool = False
    warnings: tuple[str, ...] = ()
    error: CutError | None = None


def same_cut(earlier: Cut, record: CutRecord) -> Cut:
    """Return the cut that was recorded under this id before. Raises CutError when it says something else."""
    if earlier.content_hash == record.digest:
        return earlier
    told = CutRecord(
        event_id=earlier.event_id,
        reel=earlier.reel,
        at=earlier.at,
        purpose=earlier.purpose,
        conductor=earlier.conductor,
        outer_mark=earlier.outer_mark,
        inner_mark=earlier.inner_mark,
        taped=earlier.length if earlier.taped else None,
    ).content
    raise CutError(
        "content_differs",
        f"Cut {earlier} is recorded with other content ({told}). What was recorded stays: reverse cut {earlier}, then "
        "record this one under a new id.",
        column="id",
        found=str(record.content),
        expected=f"what was recorded as {earlier} ({told}); to correct it, reverse cut {earlier} and use a new id",
    )


def new_cut(site: Site, reel: Reel, record: CutRecord, now: datetime, recorded_by: User | None) -> Cut:
    """Return a cut that is possible, not yet saved. Raises CutError when it is not."""
    marked, content, conductor = reel_marks(reel), record.content, record.conductor
    if content.taped is not None and content.taped <= 0:
        raise CutError("no_length", "A taped length must be above zero.", column="length", expected="a length above 0")
    marks = placed_marks(reel.tag, marked, content)
    if (record.purpose == Cut.Purpose.CONDUCTOR) != (conductor is not None):
        raise CutError(
            "no_conductor",
            "A cut for a conductor names run and conductor; a cut for any other purpose names none.",
            column="conductor",
        )
    if conductor is not None and conductor.run.site_id != site.pk:
        raise CutError("wrong_site", f"{conductor} belongs to another site.", column="conductor")
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
        event_id=record.event_id,
        content_hash=record.digest,
        reel=reel,
        at=record.at,
        recorded_at=now,
        purpose=record.purpose,
        conductor=conductor,
        outer_mark=from_ticks(marks[0]) if marks else None,
        inner_mark=from_ticks(marks[1]) if marks else None,
        length=from_ticks(content.taped or by_marks),
        taped=content.taped is not None,
        by=record.by,
        recorded_by=recorded_by,
    )


def cautions(site: Site, reels: Sequence[Reel], fresh: Sequence[Cut]) -> dict[str, list[str]]:
    """Return sentences on what a person should look at before each of these unsaved cuts is believed, by event id."""
    said: dict[str, list[str]] = defaultdict(list)
    if not fresh:
        return said
    conductors = {cut.conductor_id for cut in fresh if cut.conductor_id is not None}
    on_reels: dict[int, list[Cut]] = defaultdict(list)
    for cut in [*real_cuts(site).filter(reel__in=reels), *fresh]:
        on_reels[cut.reel_id].append(cut)
    withdrawn = CutDecision.objects.of(site).filter(cut=OuterRef("pk"), kind=CutDecision.Kind.WITHDRAWN)
    standing = real_cuts(site).filter(~Exists(withdrawn), conductor__in=conductors)
    served = set(standing.values_list("conductor_id", flat=True))
    new = {cut.event_id for cut in fresh}
    books = {}
    for reel in reels:
        marked = reel_marks(reel)
        books[reel.pk] = found = reel_books(marked, [cut_marks(cut) for cut in on_reels[reel.pk]])
        for dispute in found.disputes:
            start, end = (from_ticks(marked.mark_at(depth)) for depth in (dispute.over.start, dispute.over.end))
            for name, other in ((dispute.first, dispute.second), (dispute.second, dispute.first)):
                if name in new:
                    said[name].append(f"Marks {start} to {end} are claimed by cut {other} too; both are disputed.")
    for cut in fresh:
        if books[cut.reel_id].overdrawn:
            said[cut.event_id].append(f"The records take more from reel {cut.reel} than it held.")
        if cut.reel.state != Reel.State.ON_SITE:
            said[cut.event_id].append(f"Reel {cut.reel} is said to be {cut.reel.state}.")
        if cut.conductor is not None:
            short = to_ticks(cut.conductor.length) - books[cut.reel_id].lengths[cut.event_id]
            if short > 0:
                missing = show_length(short, site.unit)
                said[cut.event_id].append(f"It is {missing} shorter than {cut.conductor} needs and does not serve it.")
            if cut.conductor_id in served:
                said[cut.event_id].append(f"{cut.conductor} was cut before.")
            served.add(cut.conductor.pk)
    return said


def wrong_reels(site: Site, reels: Sequence[Reel]) -> dict[str, CutError]:
    """Return the reels, saved or not, whose marks are the same or contradict their cuts, each with its reason."""
    cuts = by_reel(real_cuts(site).filter(reel__in=[reel for reel in reels if reel.pk]))
    wrong = {}
    for reel in reels:
        try:
            reel_books(reel_marks(reel), [cut_marks(cut) for cut in cuts[reel.pk]])
        except MarksError as error:
            wrong[reel.tag] = CutError("off_reel", f"Reel {reel}: {error}.", column="outer_mark")
    return wrong
