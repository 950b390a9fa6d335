"""
Sending stock to another site, and taking it in there.

Each site keeps its own books: what leaves lies in transit in the sender's books until it arrives, then at its far
end "other site"; the receiver takes it from its own far end. Items are the same when code and unit are.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from kits.stock.act import Act, PlannedMove, ticks_of
from kits.stock.books.balances import Books
from kits.stock.books.errors import LedgerError
from kits.stock.models import Lot, Posting
from kits.stock.places import Places
from kits.stock.services import record_act
from kits.stock.taking import carrying
from takeoff.catalogue.models import Item
from takeoff.database.locks import lock
from takeoff.people.models import User
from takeoff.sites.models import Place, Site
from takeoff.units.exact import to_ticks


@transaction.atomic
def send_to_site(
    *,
    site: Site,
    to: Site,
    event_id: str,
    item: Item,
    quantity: Decimal,
    source: str,
    at: datetime,
    lot: str = "",
    by: str = "",
    recorded_by: User | None = None,
) -> Posting:
    """
    Take stock out of a bin of `site` and put it on the way to the site `to`.

    Raises LedgerError when `to` has no item of that code and unit.
    """
    _twin(item, to)
    places = Places(site)
    start, way = places.known(source), places.transit(to)
    act = Act(
        event_id=event_id,
        kind=Posting.Kind.TRANSFER,
        at=at,
        content_hash=_hash(item.code, str(quantity), source, to.slug, lot, by),
        items=(item,),
        places=(start, way),
        steps=carrying(item, ticks_of(quantity), start, way, lot=lot),
        document=f"to {to.slug}",
        by=by,
        recorded_by=recorded_by,
    )
    return record_act(site, act)


@transaction.atomic
def take_in_from_site(
    *,
    sent: Posting,
    to: Site,
    event_id: str,
    at: datetime,
    bin: str = "",  # noqa: A002  # the trade's own word
    by: str = "",
    recorded_by: User | None = None,
) -> Posting:
    """
    Take in at the site `to` what `sent` put on the way, once, and return the posting in its books.

    Raises LedgerError when it did not go to `to`, was taken in before under another id, or was reversed.
    """
    sender = sent.site
    if Posting.objects.of(sender).filter(reverses=sent).exists():
        raise LedgerError(f"{sent} was reversed: it never left {sender}.", column="document", found=str(sent))
    on_the_way = {"target__kind": Place.Kind.TRANSIT, "target__name": to.slug}
    moves = list(sent.moves.filter(**on_the_way).select_related("item").order_by("pk"))
    if not moves:
        raise LedgerError(f"{sent} sent nothing to {to}.", column="document", found=str(sent))
    content = _hash(sent.event_id, sender.slug, to.slug, event_id)
    # Both sites' items at once and by key: two sites that take in from each other would wait for each other.
    keys = [key for move in moves for key in (move.item_id, _twin(move.item, to).pk)]
    lock((Item.objects.of(sender) | Item.objects.of(to)).filter(pk__in=keys).only("pk"))
    transit, gone = Places(sender).transit(to), Places(sender).other_site(to)

    def leave(_books: Books) -> list[PlannedMove]:
        return [PlannedMove(move.item, to_ticks(move.quantity), transit, gone, move.lot) for move in moves]

    leaving = Act(
        event_id=f"taken in {sent.pk}",  # the same for every try, so that it is taken in once
        kind=Posting.Kind.TRANSFER,
        at=at,
        content_hash=content,
        items=tuple(move.item for move in moves),
        places=(transit, gone),
        steps=leave,
        by=by,
        recorded_by=recorded_by,
        document=f"to {to.slug}",
    )
    record_act(sender, leaving)
    return record_act(to, _arriving(leaving, [(m.item, to_ticks(m.quantity), m.lot) for m in moves], event_id, to, bin))


def _arriving(leaving: Act, goods: list[tuple[Item, int, str]], event_id: str, to: Site, bin_name: str) -> Act:
    sender = goods[0][0].site
    places = Places(to)
    source, target = places.other_site(sender), places.bin(bin_name)
    twins = {item.pk: _twin(item, to) for item, _, _ in goods}
    lots = Lot.objects.of(sender).filter(item__in=list(twins), expires__isnull=False)
    expires = {(lot.item_id, lot.code): lot.expires for lot in lots}

    def arrive(books: Books) -> list[PlannedMove]:
        steps = []
        for item, quantity, lot in goods:
            twin, day = twins[item.pk], expires.get((item.pk, lot))
            if day:
                books.tell_expiry(twin.pk, lot, day)
            steps.append(PlannedMove(twin, quantity, source, target, lot))
        return steps

    return Act(
        event_id=event_id,
        kind=Posting.Kind.TRANSFER,
        at=leaving.at,
        content_hash=_hash(leaving.content_hash, bin_name),
        items=tuple(twins.values()),
        places=(source, target),
        steps=arrive,
        by=leaving.by,
        recorded_by=leaving.recorded_by,
        document=f"from {sender.slug}",
    )


def _twin(item: Item, site: Site) -> Item:
    twin: Item | None = Item.objects.of(site).filter(code=item.code).first()
    if twin is None or twin.unit != item.unit:
        raise LedgerError(
            f"{site} has no item {item.code} counted in {item.unit}.",
            column="item",
            found=item.code,
            expected=f"an item that {site} has, too, in the same unit",
        )
    return twin


def _hash(*said: str) -> str:
    return hashlib.sha256("\n".join(said).encode()).hexdigest()
