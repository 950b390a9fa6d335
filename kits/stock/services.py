"""
Writing to the stock ledger.

Every act of stock, single or in bulk, goes through `record_acts`: it locks the items, reads what lies where, lets the
acts happen in order, and writes postings, moves and balances in one transaction. Because nobody else changes an
item's balances while its row is locked, what was read is what is there. On SQLite the transaction itself is the lock
(`transaction_mode` IMMEDIATE).

A count is of its moment: it is held against the books as they were then, and what happened before it but comes later
leaves what was counted as it was: the difference has a posting of its own (`kits/stock/late_records.py`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from django.db import models, transaction
from django.db.models import Exists, Q

from kits.promises.queries import kit_of
from kits.stock.books.balances import Books, ExpiryDiffersError, Key, LackingError, Moment
from kits.stock.books.errors import AlreadyReversedError, LedgerError, LotError, not_there
from kits.stock.books.pieces import OWN, Piece
from kits.stock.late_records import note_given, read_box_shares, restore_counts
from kits.stock.models import Balance, BinCount, Lot, LotDay, Move, Posting
from kits.stock.planned_acts import Act, Outcome, PlannedMove, moment_of, posting_with
from kits.stock.queries import reversals
from takeoff.catalogue.models import Item
from takeoff.chain.services import link_soon
from takeoff.database.bulk import insert_rows
from takeoff.database.locks import lock, rehearsed
from takeoff.sites.models import GOOD_KINDS, Place, Site
from takeoff.units.exact import from_ticks, to_ticks

# With more places than this it is quicker to read all balances of the items.
MANY_PLACES = 500
MANY_LOTS = 500


@transaction.atomic
def record_acts(site: Site, acts: Iterable[Act], *, again: bool = False) -> list[Outcome]:
    """
    Post acts that are not posted yet, in their order, in a number of queries that does not grow with them.

    Each stands by itself: one that is refused carries its LedgerError and the others are written. again : they were
    refused before; only the end must hold, so what takes too early is left out from the latest on, then tried once.
    """
    outcomes = [Outcome(act) for act in acts]
    items = {item.pk: item for outcome in outcomes for item in outcome.act.items}
    places = {place.pk: place for outcome in outcomes for place in outcome.act.places}
    _check_sites(outcomes, site)
    lock_items(items.values())
    books = read_books(site, items, places, [outcome.act for outcome in outcomes])
    if again:
        _settle(outcomes, books, items, places)
    else:
        for outcome in outcomes:
            _perform(outcome, books, items, places)
    _write(site, [outcome for outcome in outcomes if not outcome.error], books, places)
    return outcomes


def reversal_of(posting: Posting, by: Posting) -> Act:
    """
    Return the act that takes a posting back: its moves the other way, and those that held on to it where it is a count.

    by : the posting that it will be. Refused with AlreadyReversedError for a posting that was taken back before or
    takes one back itself.
    """
    by.reverses, by.document = posting, posting.document
    there = beyond(posting.site, [posting.event_id])
    sites = {posting.site, *(other.site for other in there)}
    undone = Q(posting=posting) | Q(posting__restores=posting) | Q(posting__in=there)
    moves = list(Move.objects.of(*sites).filter(undone).select_related("item", "source", "target"))
    count = BinCount.objects.of(posting.site).filter(posting=posting).first()
    last_days = _last_days_without(posting)

    def opposite(books: Books) -> list[PlannedMove]:
        if posting.kind == Posting.Kind.REVERSAL:
            raise AlreadyReversedError(f"{posting} takes something back itself: report anew what really happened.")
        earlier = Posting.objects.of(posting.site).filter(reverses=posting).first()
        if earlier:
            raise AlreadyReversedError(f"{posting} was taken back before, by {earlier}.")
        if taken_in(posting):
            raise LedgerError(f"{posting} was taken in there: it must be taken back there first.", column="reverses")
        if count is not None:
            moment = moment_of(posting.at, posting.kind, posting.event_id)
            books.never_counted(count.place_id, count.item_id, count.lot, moment)
        for (item, lot), day in last_days.items():
            books.set_expiry(item, lot, day)
        return [PlannedMove(m.item, to_ticks(m.quantity), source=m.target, target=m.source, lot=m.lot) for m in moves]

    return Act(
        posting=by,
        items=tuple(move.item for move in moves),
        places=tuple(place for move in moves for place in (move.source, move.target)),
        steps=opposite,
        lots=None if last_days else tuple(move.lot for move in moves),
        beyond=posting_beyond(by, posting.site, there[0].site, there[0].document, there[0]) if there else None,
    )


def posting_beyond(act: Posting, site: Site, there: Site, document: str, reverses: Posting | None = None) -> Posting:
    """Return what an act of `site` will be in the books of another site that it moves too."""
    beyond = posting_with(act, event_id=beyond_id(site, act.event_id), document=document, reverses=reverses)
    beyond.site = there
    return beyond


def _last_days_without(posting: Posting) -> dict[tuple[int, str], date | None]:
    """Return, of the lots whose last usable day a posting said, the day that rules without it."""
    said = LotDay.objects.of(posting.site).filter(~Exists(reversals(posting.site))).order_by("posting__at", "pk")
    mine = said.filter(posting=posting).values_list("item", "lot")
    days: dict[tuple[int, str], date | None] = dict.fromkeys(mine)
    for item, lot, day in (
        said.filter(item__in={item for item, _ in days}).exclude(posting=posting).values_list("item", "lot", "day")
        if days
        else ()
    ):
        if (item, lot) in days:
            days[item, lot] = day
    return days


def beyond_id(site: Site, event_id: str) -> str:
    """Return the id under which an act of `site` is posted in the books of the other site that it moves."""
    return f"beyond {hashlib.sha256(f'{site.slug} {event_id}'.encode()).hexdigest()[:40]}"


def beyond(site: Site, event_ids: Sequence[str]) -> list[Posting]:
    """Return what acts of a site have posted in the books of others."""
    far_ends = Place.objects.of(site).filter(kind=Place.Kind.OTHER_SITE)
    slugs = far_ends.filter(moves_out__posting__event_id__in=event_ids).values_list("name", flat=True)
    others = Site.objects.filter(slug__in=set(slugs))
    ids = [beyond_id(site, each) for each in event_ids]
    return list(Posting.objects.of(*others).filter(event_id__in=ids).select_related("site")) if others else []


def taken_in(sent: Posting) -> bool:
    """Return whether another site has taken in what a posting put on the way, and not taken that back."""
    left = Move.objects.of(sent.site).filter(source__kind=Place.Kind.TRANSIT, target__kind=Place.Kind.OTHER_SITE)
    return left.filter(~Exists(reversals(sent.site)), posting__document=sent.event_id).exists()


def lock_items(items: Iterable[Item]) -> None:
    """Lock items, of all sites at once and by key, so that two acts on one item take turns."""
    rows = list(items)
    if rows:
        sites = {item.site_id for item in rows}
        lock(Item.objects.of(*sites).filter(pk__in=[item.pk for item in rows]).only("pk"))


def read_books(site: Site, items: dict[int, Item], places: dict[int, Place], acts: Sequence[Act]) -> Books:
    """
    Return what lies at `places` of `items`, and at every good place where an act picks; adds those to `places`.

    Counts are read from the earliest act on, and what moved since the earliest count that is looked at.
    """
    picks, lots = any(act.picks for act in acts), _lots_named(acts)
    counts = _counts_after(site, items, min((act.moment for act in acts), default=None))
    if counts and (lost_found := Place.objects.of(site).filter(kind=Place.Kind.LOST_FOUND).first()):
        places.setdefault(lost_found.pk, lost_found)
    shares, given = read_box_shares(site, items, {moment[2] for _, moment in counts}, places)
    sites = {site, *(act.beyond.site for act in acts if act.beyond)}
    rows = Balance.objects.of(*sites).filter(item__in=list(items)).exclude(quantity=0).order_by()
    if len(places) <= MANY_PLACES:
        there = Q(place__in=list(places))
        rows = rows.filter(there | Q(place__kind__in=GOOD_KINDS) if picks else there)
    if lots is not None:
        rows = rows.filter(lot__in=lots)
    # What was counted may be all gone by now, and was there before.
    balances: dict[Key, int] = {key: 0 for key, _ in counts}
    for place, item, lot, quantity in rows.values_list("place", "item", "lot", "quantity"):
        balances[place, item, lot] = to_ticks(quantity)
    unseen = {place for place, _, _ in balances if place not in places}
    if unseen:
        places.update(Place.objects.of(site).select_related("kit_box__kit__run").in_bulk(unseen))
    known = Lot.objects.of(site).filter(item__in=list(items)).select_related("came_item")
    if lots is not None:
        known = known.filter(code__in=lots) if any(lots) else known.none()
    expires = {(lot.item_id, lot.code): lot.expires for lot in known if lot.expires}
    pieces = {(lot.item_id, lot.code): piece_of(lot) for lot in known if lot.came_item}
    looked_at = [act.moment for act in acts if counts or act.posting.kind == Posting.Kind.COUNT]
    journal = _journal_since(site, items, min(looked_at)) if looked_at else []
    far_ends = [pk for pk, place in places.items() if Place.Kind(place.kind).may_be_negative]
    books = Books(balances, far_ends=far_ends, expires=expires, journal=journal, counts=counts, pieces=pieces)
    books.shares.update(shares)
    books.given.update(given)
    return books


def piece_of(lot: Lot) -> Piece:
    """Return how a lot lies and is counted; what came should be at hand."""
    came = lot.came_item
    return Piece(Fraction(lot.covers), came.pk, came.unit) if came else OWN


def _counts_after(site: Site, items: Iterable[int], moment: Moment | None) -> list[tuple[Key, Moment]]:
    """Return when what was counted of the items, from a moment on; counts that were taken back left out."""
    if moment is None:
        return []
    rows = BinCount.objects.of(site).filter(~Exists(reversals(site)), item__in=list(items), posting__at__gte=moment[0])
    named = ("place", "item", "lot", "posting__at", "posting__event_id")
    return [
        ((place, item, lot), moment_of(at, Posting.Kind.COUNT, event_id))
        for place, item, lot, at, event_id in rows.order_by().values_list(*named)
    ]


def _journal_since(site: Site, items: Iterable[int], moment: Moment) -> list[tuple[Key, Moment, int]]:
    """Return what moved of the items since a moment; what takes an act back counts from when that was."""
    rows = Move.objects.of(site).filter(item__in=list(items), posting__at__gte=moment[0]).order_by()
    own = ("posting__at", "posting__kind", "posting__event_id")
    taken_back = ("posting__reverses__at", "posting__reverses__kind", "posting__reverses__event_id")
    found = []
    for item, lot, source, target, quantity, *when in rows.values_list(
        "item", "lot", "source", "target", "quantity", *own, *taken_back
    ):
        never_happened = when[1] == Posting.Kind.REVERSAL
        effect = moment_of(*when[3:]) if never_happened else moment_of(*when[:3])
        ticks = to_ticks(quantity)
        found += [((source, item, lot), effect, -ticks), ((target, item, lot), effect, ticks)]
    return found


def _lots_named(acts: Sequence[Act]) -> set[str] | None:
    """Return the lots that all acts together name, None when one of them minds every lot, or they are many."""
    named = [act.lots for act in acts]
    lots = {lot for lots in named if lots is not None for lot in lots}
    return None if None in named or len(lots) > MANY_LOTS else lots


def _check_sites(outcomes: Iterable[Outcome], site: Site) -> None:
    for act in (outcome.act for outcome in outcomes):
        own = {site.pk, act.beyond.site.pk if act.beyond else site.pk}
        rows: list[Item | Place] = [*act.items, *act.places]
        for row in rows:
            if row.site_id not in own:
                raise ValueError(f"{row} belongs to another site than {site}")


def _settle(outcomes: list[Outcome], books: Books, items: dict[int, Item], places: dict[int, Place]) -> None:
    """Let acts happen together as far as the end holds; each that must be left out is tried once by itself."""
    books.loose = True
    for outcome in outcomes:
        _perform(outcome, books, items, places)
    left_out: list[Outcome] = [outcome for outcome in outcomes if outcome.error]
    while lacking := books.below_zero():
        takers = [each for each in outcomes if any(each.takes(key) for key in lacking)]
        if not takers:
            break
        latest = max(takers, key=lambda outcome: outcome.act.moment)
        # What was counted after it was held against books that had it, and what took its place took it back: anew.
        later = [each for each in outcomes if each not in left_out and _hangs_on(each, latest)]
        for outcome in (*reversed(later), latest):
            _take_back(outcome, books)
        left_out.append(latest)
        for outcome in later:
            _perform(outcome, books, items, places)
        left_out += [outcome for outcome in later if outcome.error]
    books.loose = False
    for outcome in sorted(left_out, key=lambda outcome: outcome.act.moment):
        outcome.error = None
        _perform(outcome, books, items, places)


def _hangs_on(outcome: Outcome, other: Outcome) -> bool:
    """Return whether an act was worked out from books in which another had happened: a later count, or one again."""
    if any(follower.act.posting.reverses is other.act.posting for follower in outcome.followers):
        return True
    return outcome.act.posting.kind == Posting.Kind.COUNT and outcome.act.moment > other.act.moment


def _perform(outcome: Outcome, books: Books, items: dict[int, Item], places: dict[int, Place]) -> None:
    """Let one act happen in the books, whole or not at all."""
    act = outcome.act
    books.now, books.told = act.moment, outcome.told
    try:
        outcome.steps = list(act.steps(books))
        note_given(books, act.posting.event_id, outcome.steps)
        restore_counts(outcome, books, places)
        back = [move for moves in outcome.restored.values() for move in moves]
        # What a count has found missing is put back before it is taken, what it has found is taken once it is there.
        first = [move for move in back if move.source.kind in (Place.Kind.LOST_FOUND, Place.Kind.HANDED_OUT)]
        for move in (*first, *outcome.steps, *(move for move in back if move not in first)):
            books.move(*move.keys)
            outcome.done.append(move)
        for follower in act.then(outcome) if act.then else ():
            outcome.followers.append(Outcome(follower))
            _perform(outcome.followers[-1], books, items, places)
            if error := outcome.followers[-1].error:
                raise error
    except LackingError as error:
        outcome.error = act.lacking(error) if act.lacking else _told(error, act, books, items[error.item], places)
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
        _take_back(outcome, books)
    elif act.noted:
        act.noted(outcome)


def _take_back(outcome: Outcome, books: Books) -> None:
    for follower in reversed(outcome.followers):
        _take_back(follower, books)
    books.now = outcome.act.moment
    books.undo(move.keys for move in outcome.done)
    note_given(books, outcome.act.posting.event_id, outcome.steps, -1)
    for count, moves in outcome.restored.items():
        note_given(books, count, moves, -1)
    books.forget(outcome.told)
    outcome.steps, outcome.done, outcome.restored, outcome.told, outcome.followers = [], [], {}, [], []
    if outcome.act.noted:
        outcome.act.noted(None)


def _told(error: LackingError, act: Act, books: Books, item: Item, places: dict[int, Place]) -> LedgerError:
    of_others, elsewhere = [], []
    if act.picks:
        tried = {lying.place for lying in (*error.there, *error.expired)}
        good = [pk for pk, place in places.items() if place.kind in GOOD_KINDS and pk not in tried]
        runs = {pk: kit.run for pk in good if (kit := kit_of(places[pk])) and kit.run}
        elsewhere = books.lying(item.pk, [pk for pk in good if not kit_of(places[pk])])
        of_others = [(lying, str(runs[lying.place])) for lying in books.lying(item.pk, runs)]
    names = {pk: place.name for pk, place in places.items()}
    return not_there(error, code=item.code, unit=item.unit, names=names, of_others=of_others, elsewhere=elsewhere)


def _write(site: Site, outcomes: list[Outcome], books: Books, places: dict[int, Place]) -> None:
    if not outcomes:
        return
    followers = [follower for outcome in outcomes for follower in outcome.followers]
    acts = [outcome.act for outcome in outcomes]
    postings = [*(act.posting for act in acts), *(act.beyond for act in acts if act.beyond)]
    insert_rows([posting for posting in postings if posting.pk is None])
    insert_rows([follower.act.posting for follower in followers])  # they take back what may have been posted only now
    outcomes = [*outcomes, *followers]
    moves = []
    for outcome in outcomes:
        posting, there = outcome.act.posting, outcome.act.beyond
        for step in outcome.steps:
            places.setdefault(step.source.pk, step.source)
            places.setdefault(step.target.pk, step.target)
            moves.append(_move(there if there and step.item.site_id == there.site_id else posting, step))
    insert_rows([*moves, *_restoring(site, outcomes)], keys=False, model=Move)
    for other in {act.beyond.site for act in acts if act.beyond}:
        link_soon(other)
    _write_papers(outcomes)
    _write_last_days(outcomes, books)
    _write_pieces(moves, books)
    if rehearsed():
        return  # whoever hands out next would wait for its balances
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


def _write_last_days(outcomes: Iterable[Outcome], books: Books) -> None:
    """Write what acts say of last usable days, each under its posting, and what therefore rules."""
    told = [(outcome.act.posting, said) for outcome in outcomes for said in outcome.told]
    insert_rows(
        [
            LotDay(posting=posting, item_id=said.item, lot=said.lot, day=said.day)
            for posting, said in told
            if said.day and posting.reverses_id is None
        ]
    )
    ruling = {(said.item, said.lot): books.expires(said.item, said.lot) for _, said in told}
    Lot.objects.bulk_create(
        [Lot(item_id=item, code=lot, expires=day) for (item, lot), day in ruling.items()],
        update_conflicts=True,
        unique_fields=["item", "code"],
        update_fields=["expires"],
    )


def _write_pieces(moves: Iterable[_Row], books: Books) -> None:
    """Write how lots lie that moved and of which it was not known."""
    moved = {(move.item_id, move.lot) for move in moves} if books.new_pieces else set()
    Lot.objects.bulk_create(
        [
            Lot(item_id=item, code=lot, came_item_id=piece.came, covers=piece.each)
            for (item, lot), piece in books.new_pieces.items()
            if (item, lot) in moved
        ],
        update_conflicts=True,
        unique_fields=["item", "code"],
        update_fields=["came_item", "covers"],
    )


def _restoring(site: Site, outcomes: Sequence[Outcome]) -> list[_Row]:
    """Post what leaves counts as they were, dated as those counts, and return the moves."""
    late = [(count, outcome) for outcome in outcomes for count in outcome.restored]
    if not late:
        return []
    counts = {
        posting.event_id: posting
        for posting in Posting.objects.of(site).filter(event_id__in={count for count, _ in late})
    }
    postings = [
        Posting(
            site_id=site.pk,
            event_id=f"restored {hashlib.sha256(f'{count} {outcome.act.posting.event_id}'.encode()).hexdigest()[:40]}",
            kind=Posting.Kind.COUNT,
            content_hash=outcome.act.posting.content_hash,
            at=counts[count].at,
            recorded_at=outcome.act.posting.recorded_at,
            reason=f"{outcome.act.posting.event_id} was before the count {count} and came after it"[:300],
            document=count,
            restores=counts[count],
        )
        for count, outcome in late
    ]
    insert_rows(postings)
    return [
        _move(posting, step)
        for (count, outcome), posting in zip(late, postings, strict=True)
        for step in outcome.restored[count]
    ]


class _Row(NamedTuple):
    """A row of moves."""

    posting_id: int
    item_id: int
    lot: str
    source_id: int
    target_id: int
    quantity: Decimal


def _move(posting: Posting, step: PlannedMove) -> _Row:
    return _Row(posting.pk, step.item.pk, step.lot, step.source.pk, step.target.pk, from_ticks(step.quantity))


def _write_papers(outcomes: Iterable[Outcome]) -> None:
    by_model: dict[type[models.Model], list[models.Model]] = {}
    for act in (outcome.act for outcome in outcomes):
        for paper in act.papers(act.posting) if act.papers else []:
            by_model.setdefault(type(paper), []).append(paper)
    for papers in by_model.values():
        insert_rows(papers)
