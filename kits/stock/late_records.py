"""
What leaves a count as it was, when something from before it comes late.

In a bin the difference comes from or goes to lost and found. In a crew's gang box it comes from or goes to the stages
over which that count shared what was gone: what it had found goes back first, and what they do not have is found.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from django.db.models import Q

from kits.stock.books.balances import Books
from kits.stock.books.shares import shared
from kits.stock.models import BoxShare, Move
from kits.stock.planned_acts import Outcome, PlannedMove
from takeoff.sites.models import Place, Site
from takeoff.units.exact import to_ticks


def read_box_shares(
    site: Site, items: Collection[int], counts: Collection[str], places: dict[int, Place]
) -> tuple[dict[str, dict[int, int]], dict[tuple[str, int], int]]:
    """
    Return over what those of some counts share that are of gang boxes, and what each gave whom, as `Books` takes them.

    The places that they share over are added to `places`.
    """
    shares: dict[str, dict[int, int]] = {}
    given: dict[tuple[str, int], int] = {}
    rows = BoxShare.objects.of(site).filter(posting__event_id__in=counts).select_related("posting", "place")
    for row in rows.order_by("pk") if counts else ():
        shares.setdefault(row.posting.event_id, {})[row.place_id] = to_ticks(row.weight)
        places.setdefault(row.place_id, row.place)
    if shares:
        own = Q(posting__event_id__in=shares) | Q(posting__restores__event_id__in=shares)
        moves = Move.objects.of(site).filter(own, item__in=items)
        for move in moves.select_related("posting__restores", "source", "target"):
            count = (move.posting.restores or move.posting).event_id
            for key, quantity in _gives(count, move.source, move.target, to_ticks(move.quantity)):
                given[key] = given.get(key, 0) + quantity
    return shares, given


def note_given(books: Books, count: str, moves: Iterable[PlannedMove], sign: int = 1) -> None:
    """Note in the books what the count of a gang box gives by moves; with a `sign` of -1, that they are taken back."""
    if count in books.shares:
        for move in moves:
            for key, quantity in _gives(count, move.source, move.target, move.quantity):
                books.given[key] += sign * quantity


def _gives(count: str, source: Place, target: Place, quantity: int) -> Iterable[tuple[tuple[str, int], int]]:
    """Yield what a move of a count gives a place, below zero what it takes from there."""
    if source.kind == Place.Kind.GANG_BOX:
        yield (count, target.pk), quantity
    elif target.kind == Place.Kind.GANG_BOX:
        yield (count, source.pk), -quantity


def restore_counts(outcome: Outcome, books: Books, places: Mapping[int, Place]) -> None:
    """Work out what leaves the figure of each count as it was that was made after the act, and known before it."""
    for move in outcome.steps:
        for place, came in ((move.source, False), (move.target, True)):
            count = books.next_count(place.pk, move.item.pk, move.lot)
            if count is None or place.kind == Place.Kind.LOST_FOUND:
                continue
            parts = _parts(books, count[2], places, move.quantity, came=came)
            back = [
                PlannedMove(move.item, part, *((place, other) if came else (other, place)), move.lot)
                for other, part in parts
            ]
            outcome.restored.setdefault(count[2], []).extend(back)
            note_given(books, count[2], back)


def _parts(
    books: Books, count: str, places: Mapping[int, Place], quantity: int, *, came: bool
) -> list[tuple[Place, int]]:
    """Return where that goes which a count did not know to have come, or comes from that it did not know to be gone."""
    lost_found = next(each for each in places.values() if each.kind == Place.Kind.LOST_FOUND)
    weights, parts = books.shares.get(count, {}), []
    if weights:
        found = max(0, -books.given[count, lost_found.pk])
        theirs = weights if came else {key: max(0, books.given[count, key]) for key in weights}
        of_stages = min(quantity, max(0, quantity - found) if came else sum(theirs.values()))
        if of_stages:
            parts = list(zip((places[key] for key in theirs), shared(of_stages, list(theirs.values())), strict=True))
            quantity -= of_stages
    return [(place, part) for place, part in [*parts, (lost_found, quantity)] if part]
