"""
Writing to the stock ledger.

Every act of stock, single or in bulk, goes through `record_acts`: it locks the items, reads what lies where, lets the
acts happen in order, and writes postings, moves and balances in one transaction. Because nobody else changes an
item's balances while its row is locked, what was read is what is there. On SQLite the transaction itself is the lock
(`transaction_mode` IMMEDIATE).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, connection, models, transaction
from django.db.models import Q
from django.utils import timezone

from kits.stock.act import Act, Outcome, PlannedMove, ticks_of
from kits.stock.books.balances import Books, ExpiryDiffersError, LackingError
from kits.stock.books.errors import AlreadyReversedError, ContentDiffersError, LedgerError, LotError, not_there
from kits.stock.models import Balance, Lot, Move, Posting
from kits.stock.places import GOOD_KINDS
from takeoff.catalogue.models import Item
from takeoff.database.bulk import insert_rows
from takeoff.people.models import User
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks, to_ticks

# Values in one IN list: below what every build of SQLite takes.
CHUNK = 10_000
# With more places than this it is quicker to read all balances of the items.
MANY_PLACES = 500
MANY_LOTS = 500


@transaction.atomic
def post(
    *,
    site: Site,
    event_id: str,
    kind: Posting.Kind,
    at: datetime,
    moves: Iterable[PlannedMove],
    content: dict[str, Any] | None = None,
    by: str = "",
    recorded_by: User | None = None,
    reason: str = "",
    document: str = "",
    lender: Run | None = None,
) -> Posting:
    """
    Post one act with its moves, once: the same id and content again returns the first posting.

    Raises ContentDiffersError for the same id with other content, NotThereError (with what is there) when a real
    place would fall below zero.
    """
    steps = list(moves)
    said = content if content is not None else {"moves": [_said(step) for step in steps]}
    return record_act(
        site,
        Act(
            event_id=event_id,
            kind=kind,
            at=at,
            content=said,
            items=tuple(step.item for step in steps),
            places=tuple(place for step in steps for place in (step.source, step.target)),
            steps=lambda _books: steps,
            lots=tuple(step.lot for step in steps),
            by=by,
            recorded_by=recorded_by,
            reason=reason,
            document=document,
            lender=lender,
        ),
    )


@transaction.atomic
def reverse(
    *,
    site: Site,
    event_id: str,
    posting: Posting,
    at: datetime,
    reason: str,
    by: str = "",
    recorded_by: User | None = None,
) -> Posting:
    """
    Post the opposite moves of a posting, once.

    Raises AlreadyReversedError for a posting that was reversed under another id or is a reversal itself, and
    NotThereError when what it brought has been taken further since.
    """
    if posting.site_id != site.pk:
        raise ValueError(f"posting {posting} belongs to another site than {site}")
    if posting.kind == Posting.Kind.REVERSAL:
        raise AlreadyReversedError(f"{posting} is itself a reversal: post what really happened anew.")
    moves = list(posting.moves.select_related("item", "source", "target"))

    def opposite(_books: Books) -> list[PlannedMove]:
        earlier = Posting.objects.of(site).filter(reverses=posting).first()
        if earlier:
            raise AlreadyReversedError(f"{posting} was reversed before, by {earlier}.")
        return [PlannedMove(m.item, to_ticks(m.quantity), source=m.target, target=m.source, lot=m.lot) for m in moves]

    return record_act(
        site,
        Act(
            event_id=event_id,
            kind=Posting.Kind.REVERSAL,
            at=at,
            content={"reverses": posting.event_id},
            items=tuple(move.item for move in moves),
            places=tuple(place for move in moves for place in (move.source, move.target)),
            steps=opposite,
            lots=tuple(move.lot for move in moves),
            by=by,
            recorded_by=recorded_by,
            reason=reason,
            document=posting.document,
            reverses=posting,
        ),
    )


def record_act(site: Site, act: Act) -> Posting:
    """
    Post one act inside its service's transaction, and return its posting, new or known before.

    Raises the LedgerError that refuses it.
    """
    (outcome,) = _record(site, [lambda: act])
    if outcome.error:
        raise outcome.error
    assert outcome.posting is not None
    return outcome.posting


@transaction.atomic
def record_acts(site: Site, makers: Iterable[Callable[[], Act]]) -> list[Outcome]:
    """
    Post many acts in their order, in a number of queries that does not grow with them.

    makers : each gives one act, or raises the LedgerError that refuses it. Returns an outcome for each. When any of
    them was refused nothing is written at all, and the outcomes of the refused ones say why.
    """
    outcomes = _record(site, makers)
    if any(outcome.error for outcome in outcomes):
        transaction.set_rollback(True)
    return outcomes


def _record(site: Site, makers: Iterable[Callable[[], Act]]) -> list[Outcome]:
    outcomes = [_made(maker) for maker in makers]
    acts = [outcome.act for outcome in outcomes if outcome.act]
    items = {item.pk: item for act in acts for item in act.items}
    places = {place.pk: place for act in acts for place in act.places}
    _check_site(site, items.values(), places.values())
    lock_items(site, items.values())
    known = _known_postings(site, [act.event_id for act in acts])
    new: dict[str, Outcome] = {}
    fresh = [act for act in acts if act.event_id not in known]
    books = read_books(site, items, places, picks=any(act.picks for act in fresh), lots=_lots_named(fresh))
    for outcome in outcomes:
        if outcome.act is None:
            continue
        before, earlier = known.get(outcome.act.event_id), new.get(outcome.act.event_id)
        if before:
            outcome.posting = before
            if before.content_hash != outcome.act.content_hash:
                outcome.error = _content_differs(outcome.act)
        elif earlier and earlier.act:
            if earlier.act.content_hash != outcome.act.content_hash:
                outcome.error = _content_differs(outcome.act)
        else:
            new[outcome.act.event_id] = outcome
            _perform(outcome, outcome.act, books, items, places)
    if any(outcome.error for outcome in outcomes):
        return outcomes
    _write(site, list(new.values()), books, places)
    for outcome in outcomes:
        if outcome.posting is None and outcome.act:
            outcome.posting = new[outcome.act.event_id].posting
    return outcomes


def posted_content(site: Site, ids: Sequence[str]) -> dict[str, str]:
    """Return the content hashes of the postings that a site has of these ids."""
    postings = Posting.objects.of(site).order_by().values_list("event_id", "content_hash")
    return dict(
        pair for start in range(0, len(ids), CHUNK) for pair in postings.filter(event_id__in=ids[start : start + CHUNK])
    )


def lock_items(site: Site, items: Iterable[Item]) -> None:
    """Take the row lock of each item, in key order, so that two acts on one item take turns."""
    if connection.features.has_select_for_update:
        rows = Item.objects.of(site).filter(pk__in=[item.pk for item in items])
        list(rows.select_for_update(of=("self",), no_key=True).order_by("pk").values_list("pk"))


def read_books(
    site: Site, items: dict[int, Item], places: dict[int, Place], *, picks: bool, lots: set[str] | None
) -> Books:
    """
    Return what lies at `places` of `items`, and at every good place when `picks`; adds those to `places`.

    lots : read these only; None for all, with how long each can be used.
    """
    rows = Balance.objects.of(site).filter(item__in=list(items)).exclude(quantity=0).order_by()
    if len(places) <= MANY_PLACES:
        there = Q(place__in=list(places))
        rows = rows.filter(there | Q(place__kind__in=GOOD_KINDS) if picks else there)
    if lots is not None:
        rows = rows.filter(lot__in=lots)
    balances: dict[tuple[int, int, str], int] = {}
    for place, item, lot, quantity in rows.values_list("place", "item", "lot", "quantity"):
        balances[place, item, lot] = to_ticks(quantity)
    unseen = {place for place, _, _ in balances if place not in places}
    if unseen:
        places.update(Place.objects.of(site).select_related("kit__run").in_bulk(unseen))
    dated = Lot.objects.of(site).filter(item__in=list(items)) if lots is None else ()
    expires = {(lot.item_id, lot.code): lot.expires for lot in dated if lot.expires}
    far_ends = [pk for pk, place in places.items() if Place.Kind(place.kind).may_be_negative]
    return Books(balances, far_ends=far_ends, expires=expires)


def _lots_named(acts: list[Act]) -> set[str] | None:
    """Return the lots that all acts together name, None when one of them minds every lot, or they are many."""
    named = [act.lots for act in acts]
    lots = {lot for lots in named if lots is not None for lot in lots}
    return None if None in named or len(lots) > MANY_LOTS else lots


def _said(step: PlannedMove) -> list[str]:
    ends = [f"{place.kind} {place.name}" for place in (step.source, step.target)]
    return [step.item.code, step.lot, *ends, str(from_ticks(step.quantity))]


def _check_site(site: Site, items: Iterable[Item], places: Iterable[Place]) -> None:
    rows: list[Item | Place] = [*items, *places]
    for row in rows:
        if row.site_id != site.pk:
            raise ValueError(f"{row} belongs to another site than {site}")


def _known_postings(site: Site, ids: Sequence[str]) -> dict[str, Posting]:
    hashes = posted_content(site, ids)
    if not hashes:
        return {}
    found = list(hashes)
    postings = Posting.objects.of(site)
    return {
        posting.event_id: posting
        for start in range(0, len(found), CHUNK)
        for posting in postings.filter(event_id__in=found[start : start + CHUNK])
    }


def _made(maker: Callable[[], Act]) -> Outcome:
    try:
        return Outcome(maker())
    except LedgerError as error:
        return Outcome(None, error=error)


def _content_differs(act: Act) -> ContentDiffersError:
    return ContentDiffersError(
        f"{act.event_id} was posted before with other content: reverse that posting, then post this under a new id.",
        column="id",
        found=act.event_id,
        expected="what was posted under this id, unchanged; to correct it, reverse it and post anew under another id",
    )


def _perform(outcome: Outcome, act: Act, books: Books, items: dict[int, Item], places: dict[int, Place]) -> None:
    """Let one act happen in the books, whole or not at all."""
    done: list[tuple[int, str, int, int, int]] = []
    try:
        for step in act.steps(books):
            move = (step.item.pk, step.lot, step.source.pk, step.target.pk, step.quantity)
            books.move(*move)
            done.append(move)
            outcome.steps.append(step)
    except LackingError as error:
        outcome.error = _told(error, act, books, items[error.item], places)
    except ExpiryDiffersError as error:
        outcome.error = LotError(
            f"Lot {error.lot} of {items[error.item]} was recorded before, to be used to {error.known:%Y-%m-%d}.",
            column="expires",
            found=f"{error.told:%Y-%m-%d}",
            expected=f"{error.known:%Y-%m-%d}, or another lot",
        )
    except LedgerError as error:
        outcome.error = error
    if outcome.error:
        books.undo(done)


def _told(error: LackingError, act: Act, books: Books, item: Item, places: dict[int, Place]) -> LedgerError:
    of_others = []
    if act.picks:
        tried = {lying.place for lying in (*error.there, *error.expired)}
        boxes = [pk for pk, place in places.items() if place.kind == Place.Kind.KIT_BOX and pk not in tried]
        runs = {pk: kit.run for pk in boxes if (kit := getattr(places[pk], "kit", None)) and kit.run}
        of_others = [(lying, str(runs[lying.place])) for lying in books.lying(item.pk, runs)]
    names = {pk: place.name for pk, place in places.items()}
    return not_there(error, code=item.code, unit=item.unit, names=names, of_others=of_others)


def _write(site: Site, outcomes: list[Outcome], books: Books, places: dict[int, Place]) -> None:
    if not outcomes:
        return
    now = timezone.now()
    acts = [outcome.act for outcome in outcomes if outcome.act]
    # Keys instead of objects: setting a related object costs more than inserting the row.
    postings = [
        Posting(
            site_id=site.pk,
            event_id=act.event_id,
            kind=act.kind,
            content_hash=act.content_hash,
            at=act.at,
            recorded_at=now,
            by=act.by,
            recorded_by_id=act.recorded_by.pk if act.recorded_by else None,
            reason=act.reason,
            document=act.document,
            lender_id=act.lender.pk if act.lender else None,
            reverses_id=act.reverses.pk if act.reverses else None,
        )
        for act in acts
    ]
    try:
        insert_rows(postings)
    except IntegrityError as error:
        raise LedgerError("The same was posted by someone else just now: look at it, then send it again.") from error
    moves = []
    for outcome, posting in zip(outcomes, postings, strict=True):
        outcome.posting, outcome.new = posting, True
        for step in outcome.steps:
            places.setdefault(step.source.pk, step.source)
            places.setdefault(step.target.pk, step.target)
            moves.append(
                Move(
                    posting_id=posting.pk,
                    item_id=step.item.pk,
                    lot=step.lot,
                    source_id=step.source.pk,
                    target_id=step.target.pk,
                    quantity=from_ticks(step.quantity),
                )
            )
    insert_rows(moves)
    _write_papers(acts, postings)
    Lot.objects.bulk_create(
        [Lot(item_id=item, code=lot, expires=day) for (item, lot), day in books.new_expiries.items()],
        update_conflicts=True,
        unique_fields=["item", "code"],
        update_fields=["expires"],
    )
    Balance.objects.bulk_create(
        [
            Balance(
                place_id=place,
                item_id=item,
                lot=lot,
                quantity=from_ticks(quantity),
                may_be_negative=Place.Kind(places[place].kind).may_be_negative,
            )
            for (place, item, lot), quantity in sorted(books.changed.items())
        ],
        update_conflicts=True,
        unique_fields=["place", "item", "lot"],
        update_fields=["quantity"],
    )


def _write_papers(acts: Iterable[Act], postings: Iterable[Posting]) -> None:
    by_model: dict[type[models.Model], list[models.Model]] = {}
    for act, posting in zip(acts, postings, strict=True):
        for paper in act.papers(posting) if act.papers else []:
            by_model.setdefault(type(paper), []).append(paper)
    for papers in by_model.values():
        insert_rows(papers)


def step_of(item: Item, quantity: Decimal | int | str, source: Place, target: Place, lot: str = "") -> PlannedMove:
    """Return a move of `quantity` in the item's unit. Raises LedgerError unless it is above zero and exact."""
    return PlannedMove(item, ticks_of(quantity), source, target, lot)
