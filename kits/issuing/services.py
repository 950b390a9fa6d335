"""Handing out, giving back, counting, scrapping, sending back, and moving stock within and between sites."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal
from functools import partial

from django.db import transaction

from kits.issuing.requests import (
    DAMAGED,
    SPOILED,
    Carry,
    GiveBack,
    HandOut,
    StockCount,
    carry_act,
    count_act,
    give_back_act,
    hand_out_act,
)
from kits.stock.act import Act, Outcome
from kits.stock.models import Posting
from kits.stock.places import Places
from kits.stock.services import record_act, record_acts
from takeoff.catalogue.models import Item
from takeoff.people.models import User
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site

Request = HandOut | GiveBack | StockCount


@transaction.atomic
def hand_out(*, site: Site, request: HandOut) -> Posting:
    """Hand out to a stage. Raises NotThereError with what is there, LotError for an expired lot."""
    return record_act(site, hand_out_act(Places(site), request))


@transaction.atomic
def give_back(*, site: Site, request: GiveBack) -> Posting:
    """Take back from a stage. Raises NotThereError when the stage has not been handed that much."""
    return record_act(site, give_back_act(Places(site), request))


@transaction.atomic
def count(*, site: Site, request: StockCount) -> Posting:
    """Bring a bin's book to what was counted."""
    return record_act(site, count_act(Places(site), request))


@transaction.atomic
def record_requests(*, site: Site, requests: Sequence[Request]) -> list[Outcome]:
    """
    Post many hand-outs, returns and counts in their order, in a number of queries that does not grow with them.

    Returns an outcome for each; when one was refused, nothing at all was written.
    """
    places = Places(site)
    load_places(places, requests)
    outcomes = record_acts(site, [partial(act_of, places, request) for request in requests])
    if any(outcome.error for outcome in outcomes):
        transaction.set_rollback(True)
    return outcomes


def load_places(places: Places, requests: Iterable[Request]) -> None:
    """Read a site's places, and make those that the requests may make, all at once."""
    work, bins = places_wanted(requests)
    places.load_all(work=work, bins=bins)


def places_wanted(requests: Iterable[Request]) -> tuple[list[tuple[Place.Kind, Run, str]], list[str]]:
    """Return the places of work and the names of the bins that the requests make where they are missing."""
    work = []
    bins = []
    for request in requests:
        if isinstance(request, StockCount):
            bins.append(request.bin)
            continue
        work.append((Place.Kind.HANDED_OUT, request.run, request.stage))
        if isinstance(request, GiveBack):
            if request.condition == SPOILED:
                work.append((Place.Kind.SPOILED, request.run, request.stage))
            elif request.condition != DAMAGED:
                bins.append(request.bin)
    return work, bins


def act_of(places: Places, request: Request) -> Act:
    """Return the act that a request asks for."""
    if isinstance(request, HandOut):
        return hand_out_act(places, request)
    if isinstance(request, GiveBack):
        return give_back_act(places, request)
    return count_act(places, request)


@transaction.atomic
def transfer(
    *,
    site: Site,
    event_id: str,
    item: Item,
    quantity: Decimal,
    source: str,
    target: str,
    at: datetime,
    lot: str = "",
    reason: str = "",
    by: str = "",
    recorded_by: User | None = None,
) -> Posting:
    """Take stock from one bin, kit box or quarantine to another; the target is made where it is missing."""
    places = Places(site)
    carry = Carry(
        event_id=event_id,
        kind=Posting.Kind.TRANSFER,
        item=item,
        quantity=quantity,
        source=places.known(source),
        target=places.bin(target),
        at=at,
        lot=lot,
        reason=reason,
        by=by,
        recorded_by=recorded_by,
    )
    return record_act(site, carry_act(carry))


@transaction.atomic
def scrap(
    *,
    site: Site,
    event_id: str,
    item: Item,
    quantity: Decimal,
    source: str,
    at: datetime,
    reason: str,
    lot: str = "",
    by: str = "",
    recorded_by: User | None = None,
) -> Posting:
    """Scrap what lies in a bin, kit box or quarantine."""
    places = Places(site)
    carry = Carry(
        event_id=event_id,
        kind=Posting.Kind.SCRAP,
        item=item,
        quantity=quantity,
        source=places.known(source),
        target=places.scrap(),
        at=at,
        lot=lot,
        reason=reason,
        by=by,
        recorded_by=recorded_by,
    )
    return record_act(site, carry_act(carry))


@transaction.atomic
def send_back(
    *,
    site: Site,
    event_id: str,
    item: Item,
    quantity: Decimal,
    at: datetime,
    reason: str,
    source: str = "",
    lot: str = "",
    document: str = "",
    by: str = "",
    recorded_by: User | None = None,
) -> Posting:
    """Send goods back to their supplier, out of quarantine unless a bin is named."""
    places = Places(site)
    carry = Carry(
        event_id=event_id,
        kind=Posting.Kind.SEND_BACK,
        item=item,
        quantity=quantity,
        source=places.known(source) if source else places.quarantine(),
        target=places.returned(),
        at=at,
        lot=lot,
        reason=reason,
        document=document,
        by=by,
        recorded_by=recorded_by,
    )
    return record_act(site, carry_act(carry))
