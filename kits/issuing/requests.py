"""Hand-outs, returns, counts and what else moves stock within a site, each as an act that can be posted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from kits.stock.act import Act, PlannedMove, ticks_of
from kits.stock.books.balances import Books, Lying
from kits.stock.books.errors import LedgerError, LotError, UnknownPlaceError
from kits.stock.books.lots import lot_named
from kits.stock.models import Posting
from kits.stock.places import Places
from takeoff.catalogue.models import Item
from takeoff.people.models import User
from takeoff.runs.models import Run
from takeoff.sites.models import Place, StageName

# Ways in which something comes back from a stage, and where it goes.
GOOD, DAMAGED, SPOILED = "good", "damaged", "spoiled"
CONDITIONS = (GOOD, DAMAGED, SPOILED)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOut:
    """
    A quantity of an item handed to a stage of a run.

    Without a `bin` it comes from the boxes of the run's kits, then from pooled bins, first expired first out. With a
    `lender` it is borrowed: from the boxes of the lender's kits, then from the pool, out of the lender's share.
    """

    event_id: str
    item: Item
    quantity: Decimal
    run: Run
    stage: str
    at: datetime
    bin: str = ""
    lot: str = ""
    lender: Run | None = None
    by: str = ""
    recorded_by: User | None = None
    said_hash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveBack:
    """
    A quantity that comes back from a stage of a run, in a condition of CONDITIONS.

    Good goes to `bin` (Store where empty), damaged to quarantine; spoiled stays counted as used by the stage. Without
    a lot it is taken to be of the lot that keeps longest: what expires first is used first.
    """

    event_id: str
    item: Item
    quantity: Decimal
    run: Run
    stage: str
    at: datetime
    condition: str = GOOD
    bin: str = ""
    lot: str = ""
    by: str = ""
    recorded_by: User | None = None
    said_hash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StockCount:
    """
    What was counted of an item's lot in a bin; a blank lot is what has none.

    What is more than the books say is found, what is less is lost.
    """

    event_id: str
    item: Item
    bin: str
    counted: Decimal
    at: datetime
    lot: str = ""
    expires: date | None = None
    by: str = ""
    recorded_by: User | None = None
    said_hash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carry:
    """A quantity of an item taken from one of the site's places to another, whatever they are."""

    event_id: str
    kind: Posting.Kind
    item: Item
    quantity: Decimal
    source: Place
    target: Place
    at: datetime
    lot: str = ""
    reason: str = ""
    document: str = ""
    by: str = ""
    recorded_by: User | None = None
    said_hash: str = ""


def hand_out_act(places: Places, request: HandOut) -> Act:
    """Return the act of a hand-out. Raises LedgerError for a bin that is unknown or serves another run."""
    quantity = ticks_of(request.quantity)
    _check_stage(request.stage)
    target = places.handed_out(request.run, request.stage)
    giver = request.lender or request.run
    if request.lender == request.run:
        raise LedgerError(
            f"{request.run} cannot borrow from itself.",
            column="lender",
            found=str(request.run),
            expected="another run, or nothing",
        )
    named = _bin_to_draw_from(places, request) if request.bin else None

    def steps(books: Books) -> list[PlannedMove]:
        groups = [{named.pk: named}] if named else [places.boxes_of(giver), places.pooled()]
        on = places.site.local_date(request.at)
        _refuse_expired_lot(books, request, on)
        return _from_groups(books, request.item, groups, quantity, target, on=on, lot=request.lot)

    return Act(
        event_id=request.event_id,
        kind=Posting.Kind.ISSUE,
        at=request.at,
        content={
            "item": request.item.code,
            "quantity": quantity,
            "run": request.run.name,
            "stage": request.stage,
            "bin": request.bin,
            "lot": request.lot,
            "lender": request.lender.name if request.lender else "",
        },
        items=(request.item,),
        places=(target, named) if named else (target,),
        steps=steps,
        picks=True,
        said_hash=request.said_hash,
        by=request.by,
        recorded_by=request.recorded_by,
        lender=request.lender,
    )


def give_back_act(places: Places, request: GiveBack) -> Act:
    """Return the act of a return. Raises LedgerError for an unknown condition."""
    quantity = ticks_of(request.quantity)
    _check_stage(request.stage)
    if request.condition not in CONDITIONS:
        expected = ", ".join(CONDITIONS)
        raise LedgerError(
            f"{request.condition!r} is no condition of a return; expected one of {expected}.",
            column="condition",
            found=request.condition,
            expected=f"one of {expected}",
        )
    source = places.handed_out(request.run, request.stage)
    if request.condition == GOOD:
        target = places.bin(request.bin)
    elif request.condition == DAMAGED:
        target = places.quarantine()
    else:
        target = places.spoiled(request.run, request.stage)

    def steps(books: Books) -> list[PlannedMove]:
        return _from_groups(
            books, request.item, [{source.pk: source}], quantity, target, lot=request.lot, last_first=True
        )

    return Act(
        event_id=request.event_id,
        kind=Posting.Kind.RETURN,
        at=request.at,
        content={
            "item": request.item.code,
            "quantity": quantity,
            "run": request.run.name,
            "stage": request.stage,
            "condition": request.condition,
            "bin": request.bin,
            "lot": request.lot,
        },
        items=(request.item,),
        places=(source, target),
        steps=steps,
        said_hash=request.said_hash,
        by=request.by,
        recorded_by=request.recorded_by,
    )


def count_act(places: Places, request: StockCount) -> Act:
    """Return the act of a count: the difference to the books, from or to lost and found."""
    counted = ticks_of(request.counted, column="counted", zero=True)
    bin_ = places.bin(request.bin)
    lost_found = places.lost_found()
    lot = lot_named(request.lot, request.expires)

    def steps(books: Books) -> list[PlannedMove]:
        if request.expires:
            books.tell_expiry(request.item.pk, lot, request.expires)
        difference = counted - books.at(bin_.pk, request.item.pk, lot)
        if difference > 0:
            return [PlannedMove(request.item, difference, lost_found, bin_, lot)]
        if difference < 0:
            return [PlannedMove(request.item, -difference, bin_, lost_found, lot)]
        return []

    return Act(
        event_id=request.event_id,
        kind=Posting.Kind.COUNT,
        at=request.at,
        content={
            "item": request.item.code,
            "bin": request.bin,
            "counted": counted,
            "lot": request.lot,
            "expires": request.expires,
        },
        items=(request.item,),
        places=(bin_, lost_found),
        steps=steps,
        said_hash=request.said_hash,
        by=request.by,
        recorded_by=request.recorded_by,
    )


def carry_act(request: Carry) -> Act:
    """Return the act of taking something from place to place; without a lot, what expires first goes first."""
    quantity = ticks_of(request.quantity)
    source = {request.source.pk: request.source}

    def steps(books: Books) -> list[PlannedMove]:
        return _from_groups(books, request.item, [source], quantity, request.target, lot=request.lot)

    return Act(
        event_id=request.event_id,
        kind=request.kind,
        at=request.at,
        content={
            "item": request.item.code,
            "quantity": quantity,
            "source": f"{request.source.kind} {request.source.name}",
            "target": f"{request.target.kind} {request.target.name}",
            "lot": request.lot,
        },
        items=(request.item,),
        places=(request.source, request.target),
        steps=steps,
        said_hash=request.said_hash,
        by=request.by,
        recorded_by=request.recorded_by,
        reason=request.reason,
        document=request.document,
    )


def _check_stage(stage: str) -> None:
    if stage not in StageName.values:
        expected = ", ".join(StageName.values)
        raise LedgerError(
            f"{stage!r} is no stage; expected one of {expected}.",
            column="stage",
            found=stage,
            expected=f"one of {expected}",
        )


def _bin_to_draw_from(places: Places, request: HandOut) -> Place:
    place = places.known(request.bin)
    if not Place.Kind(place.kind).holds_good_stock:
        raise UnknownPlaceError(
            f"{place.name} holds nothing that can be handed out.",
            column="bin",
            found=request.bin,
            expected="a bin or kit box",
        )
    owner = places.owner(place)
    if owner is not None and owner not in (request.run, request.lender):
        raise UnknownPlaceError(
            f"{place.name} is the box of {owner}: name {owner} as the lender to borrow from it.",
            column="bin",
            found=request.bin,
            expected=f"a pooled bin, a box of {request.run}, or {owner} as the lender",
        )
    return place


def _refuse_expired_lot(books: Books, request: HandOut, on: date) -> None:
    expires = books.expires(request.item.pk, request.lot)
    if request.lot and expires and expires < on:
        raise LotError(
            f"Lot {request.lot} of {request.item} could be used to {expires:%Y-%m-%d}: it is not handed out.",
            column="lot",
            found=request.lot,
            expected=f"a lot usable on {on:%Y-%m-%d}, or blank for the first to expire",
        )


def _from_groups(
    books: Books,
    item: Item,
    groups: Sequence[Mapping[int, Place]],
    quantity: int,
    target: Place,
    *,
    on: date | None = None,
    lot: str = "",
    last_first: bool = False,
) -> list[PlannedMove]:
    chosen: list[Lying] = books.pick(item.pk, groups, quantity, on=on, lot=lot, last_first=last_first)
    taken_from = {lying.place: places[lying.place] for lying in chosen for places in groups if lying.place in places}
    return [PlannedMove(item, lying.quantity, taken_from[lying.place], target, lying.lot) for lying in chosen]
