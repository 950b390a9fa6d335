"""
Writing the ledger of reels: cuts as they happened, and what was decided about them afterwards.

A cut has an id of its own: the same id with the same content is recorded once, with other content it is refused. What
was really cut is never changed; a wrong entry is reversed, a cut that failed is withdrawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from reels.ledger.checks import CutRecord, Recorded, cautions, new_cut, same_cut, wrong_reels
from reels.ledger.marks.content import ConfirmFirstError, CutError
from reels.ledger.marks.line import ReelBooks, reel_books
from reels.ledger.models import Cut, CutDecision, Reel
from reels.ledger.queries import cut_marks, real_cuts, reel_marks
from takeoff.people.models import User
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.lengths import show_length

CHUNK = 10_000  # ids in one IN list: below what every build of SQLite takes


@transaction.atomic
def record_cut(*, site: Site, record: CutRecord, recorded_by: User | None = None, confirmed: bool = False) -> Recorded:
    """
    Record a length taken off a reel. The lock on the reel makes two people at one reel take turns.

    confirmed : a person has seen the warnings. Raises ConfirmFirstError for an unconfirmed cut that is shorter than
    needed, overlaps another or repeats one, and CutError for what cannot be.
    """
    (outcome,) = record_cuts(site=site, records=[record], recorded_by=recorded_by)
    if outcome.error:
        raise outcome.error
    if outcome.warnings and outcome.new and not confirmed:
        raise ConfirmFirstError(outcome.warnings)
    return outcome


@transaction.atomic
def record_cuts(*, site: Site, records: Sequence[CutRecord], recorded_by: User | None = None) -> list[Recorded]:
    """
    Record many cuts that happened, in a fixed number of queries; what a person should look at comes back as warnings.

    A record that is refused carries its error and is not kept; the caller decides whether the others stand.
    """
    locked = {reel.pk: reel for reel in _lock(site, {record.reel.pk for record in records})}
    known = {cut.event_id: cut for cut in _known(site, [record.event_id for record in records])}
    now, outcomes = timezone.now(), []
    for record in records:
        outcome = Recorded(record)
        outcomes.append(outcome)
        try:
            if record.reel.pk not in locked:
                raise CutError("wrong_site", f"Reel {record.reel} belongs to another site.", column="reel")
            earlier = known.get(record.event_id)
            if earlier is not None:
                outcome.cut = same_cut(earlier, record)
                continue
            outcome.cut = known[record.event_id] = new_cut(site, locked[record.reel.pk], record, now, recorded_by)
            outcome.new = True
        except CutError as error:
            outcome.error = error
    fresh = [outcome.cut for outcome in outcomes if outcome.new and outcome.cut is not None]
    said = cautions(site, list(locked.values()), fresh)
    Cut.objects.bulk_create(fresh, batch_size=1000)
    for outcome in outcomes:
        if outcome.new:
            outcome.warnings = tuple(said[outcome.record.event_id])
    return outcomes


@transaction.atomic
def reverse_cut(
    *, site: Site, event_id: str, cut: Cut, reason: str, at: datetime, recorded_by: User | None = None
) -> CutDecision:
    """Take back a cut that was entered wrongly and never happened. Sending it twice changes nothing."""
    return _decide(site, event_id, cut, CutDecision.Kind.REVERSED, reason, at, recorded_by)


@transaction.atomic
def withdraw_cut(
    *,
    site: Site,
    event_id: str,
    cut: Cut,
    reason: str,
    at: datetime,
    piece_tag: str = "",
    place: Place | None = None,
    recorded_by: User | None = None,
) -> CutDecision:
    """
    Withdraw a real cut that failed, so that its need opens again. Sending it twice changes nothing.

    piece_tag : the tag that the cable gets as a piece for another use; empty when it is scrap.
    """
    piece = None
    if piece_tag and not cut.decisions.filter(event_id=event_id).exists():
        marks = (cut.outer_mark, cut.inner_mark)
        piece = _new_piece(site, cut.reel, piece_tag, cut.length, marks, place or cut.reel.place)
    return _decide(site, event_id, cut, CutDecision.Kind.WITHDRAWN, reason, at, recorded_by, piece)


@transaction.atomic
def accept_short_cut(
    *, site: Site, event_id: str, cut: Cut, reason: str, at: datetime, recorded_by: User | None = None
) -> CutDecision:
    """
    Accept a cut that is shorter than its conductor now needs, while the least stick-out still holds.

    Raises CutError("too_short") when it is shorter than can be terminated.
    """
    if cut.conductor is None:
        raise CutError("no_conductor", f"Cut {cut} is for no conductor.")
    length, least = _books_of(site, cut.reel).lengths[cut.event_id], to_ticks(cut.conductor.least_length)
    if length < least:
        raise CutError(
            "too_short",
            f"Cut {cut} is {show_length(length, site.unit)}; {cut.conductor} cannot be terminated below "
            f"{show_length(least, site.unit)}.",
        )
    return _decide(site, event_id, cut, CutDecision.Kind.ACCEPTED, reason, at, recorded_by)


@transaction.atomic
def take_off_remnant(*, site: Site, reel: Reel, tag: str, place: Place | None = None) -> Reel:
    """
    Give what is left on a reel a tag of its own once it comes off, and call the reel empty.

    Returns the remnant, with the marks and the length that were left. Raises CutError("not_left") when nothing was.
    """
    (reel,) = _lock(site, {reel.pk})
    marked, books = reel_marks(reel), _books_of(site, reel)
    if books.left <= 0 or reel.state == Reel.State.EMPTY:
        raise CutError("not_left", f"Nothing is left on reel {reel}.")
    marks: tuple[Decimal | None, Decimal | None] = (None, None)
    if marked.has_marks:
        marks = (from_ticks(marked.mark_at(books.outermost)), from_ticks(marked.mark_at(marked.span)))
    piece = _new_piece(site, reel, tag, from_ticks(books.left), marks, place or reel.place)
    reel.state = Reel.State.EMPTY
    reel.save(update_fields=["state"])
    return piece


@transaction.atomic
def save_reel(*, site: Site, reel: Reel) -> Reel:
    """
    Save a new or changed reel once it is whole in itself and every cut recorded from it still lies on it.

    Raises ValidationError by field, and CutError("off_reel") when its marks are the same or its cuts contradict them.
    """
    reel.full_clean(exclude=["site"])
    for error in wrong_reels(site, [reel]).values():
        raise error
    reel.save()
    return reel


@transaction.atomic
def save_reels(*, site: Site, new: Sequence[Reel], changed: Sequence[Reel], fields: set[str]) -> dict[str, CutError]:
    """
    Save many reels whose values were checked, in a fixed number of queries.

    fields : those that differ on any of `changed`. Returns the reels that were not saved, by tag, each with its reason.
    """
    wrong = wrong_reels(site, [*new, *changed])
    Reel.objects.bulk_create([reel for reel in new if reel.tag not in wrong])
    if fields:
        kept = [reel for reel in changed if reel.tag not in wrong]
        Reel.objects.of(site).bulk_update(kept, sorted(fields), batch_size=200)
    return wrong


@transaction.atomic
def make_bins(*, site: Site, names: Iterable[str]) -> dict[str, Place]:
    """Return the bins of these names, each made when there is none; a name in any case."""
    known = {bin_.name.casefold(): bin_ for bin_ in Place.objects.of(site).filter(kind=Place.Kind.BIN)}
    wanted = list(dict.fromkeys(names))
    missing: dict[str, Place] = {}
    for name in wanted:
        if name.casefold() not in known:
            missing.setdefault(name.casefold(), Place(site=site, kind=Place.Kind.BIN, name=name))
    Place.objects.bulk_create(missing.values())
    known |= missing
    return {name: known[name.casefold()] for name in wanted}


def _lock(site: Site, keys: Iterable[int]) -> list[Reel]:
    """Return reels with their rows locked, in the order of their keys."""
    reels = Reel.objects.of(site).select_for_update(of=("self",)).select_related("cable", "place")
    return list(reels.filter(pk__in=list(keys)).order_by("pk"))


def _known(site: Site, event_ids: Sequence[str]) -> list[Cut]:
    cuts = Cut.objects.of(site).select_related("reel", "conductor__run")
    return [
        cut
        for start in range(0, len(event_ids), CHUNK)
        for cut in cuts.filter(event_id__in=event_ids[start : start + CHUNK])
    ]


def _books_of(site: Site, reel: Reel) -> ReelBooks:
    return reel_books(reel_marks(reel), [cut_marks(cut) for cut in real_cuts(site).filter(reel=reel)])


def _decide(
    site: Site,
    event_id: str,
    cut: Cut,
    kind: str,
    reason: str,
    at: datetime,
    recorded_by: User | None,
    piece: Reel | None = None,
) -> CutDecision:
    cut = Cut.objects.of(site).select_for_update(of=("self",)).get(pk=cut.pk)
    if not reason.strip():
        raise CutError("no_reason", f"Say why cut {cut} is {kind}.", column="reason")
    made = {decision.kind: decision for decision in cut.decisions.all()}
    if kind in made:
        if made[kind].event_id == event_id:
            return made[kind]
        raise CutError("decided", f"Cut {cut} is already {kind}: {made[kind].reason}.")
    for last in (CutDecision.Kind.REVERSED, CutDecision.Kind.WITHDRAWN):
        if last in made:
            raise CutError("decided", f"Cut {cut} is {last} and cannot be {kind}.")
    return CutDecision.objects.create(
        cut=cut,
        event_id=event_id,
        kind=kind,
        at=at,
        recorded_at=timezone.now(),
        reason=reason.strip(),
        piece=piece,
        recorded_by=recorded_by,
    )


def _new_piece(
    site: Site, reel: Reel, tag: str, length: Decimal, marks: tuple[Decimal | None, Decimal | None], place: Place | None
) -> Reel:
    if Reel.objects.of(site).filter(tag=tag).exists():
        raise CutError("tag_taken", f"Tag {tag} is in use already.", column="tag", found=tag)
    return Reel.objects.create(
        site=site,
        tag=tag,
        cable=reel.cable,
        length=length,
        outer_mark=marks[0],
        inner_mark=marks[1],
        mark_unit=reel.mark_unit,
        place=place,
        parent=reel,
    )
