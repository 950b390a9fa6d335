"""
Writing the ledger of reels: reels as they are, and pieces with tags of their own.

What was cut, and what was decided about it afterwards, comes through the door of records (`reels/ledger/records.py`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.db import transaction

from reels.ledger.checks import wrong_reels
from reels.ledger.marks.content import CutError
from reels.ledger.marks.line import ReelBooks
from reels.ledger.models import Reel, ReelEvent
from reels.ledger.queries import books_of_reels, known_marks, real_cuts, whole_families
from takeoff.database.locks import lock
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks


@transaction.atomic
def take_off_remnant(*, site: Site, reel: Reel, tag: str, place: Place | None = None) -> Reel:
    """
    Give what is left on a reel a tag of its own once it comes off, and call the reel empty.

    Returns the remnant, with the marks and the length that were left; off a reel on hold it is on hold, too. Raises
    CutError("not_left") when nothing was left.
    """
    (reel,) = lock_reels(site, {reel.pk})
    marked, books = known_marks(site, [reel])[reel.pk], books_of(site, reel)
    if books.left <= 0 or reel.state == Reel.State.EMPTY:
        raise CutError("not_left", f"Nothing is left on reel {reel}.")
    marks: tuple[Decimal | None, Decimal | None] = (None, None)
    if marked.has_marks:
        marks = (
            from_ticks(marked.mark_at(books.outermost)),
            from_ticks(marked.mark_at(max(marked.held, books.outermost))),
        )
    state = reel.state if reel.state == Reel.State.HELD else Reel.State.ON_SITE
    piece = new_piece(site, reel, tag, from_ticks(books.left), marks, place or reel.place, state)
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


def record_reel_events(events: Sequence[ReelEvent]) -> None:
    """Keep what was read off reels that came, or that they never came."""
    ReelEvent.objects.bulk_create(events)


def lock_reels(site: Site, keys: Iterable[int]) -> list[Reel]:
    """Return reels with their rows locked, in the order of their keys."""
    return lock(Reel.objects.of(site).select_related("cable", "place").filter(pk__in=list(keys)))


def books_of(site: Site, reel: Reel) -> ReelBooks:
    """Return what the records say of a reel."""
    family = list(whole_families(site, [reel.pk]))
    return books_of_reels(site, family, real_cuts(site).filter(reel__in=family))[reel.pk]


def new_piece(
    site: Site,
    reel: Reel,
    tag: str,
    length: Decimal,
    marks: tuple[Decimal | None, Decimal | None],
    place: Place | None,
    state: str = Reel.State.ON_SITE,
) -> Reel:
    """Return a new reel for a piece that came off another. Raises CutError("tag_taken")."""
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
        state=state,
        parent=reel,
    )
