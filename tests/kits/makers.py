"""What happens in a store, told for tests in one line, and what lies there afterwards."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import count

from django.db.models import Sum
from django.utils import timezone

from kits.models import Balance, Move, Posting, Shipment
from kits.stock.planned_acts import Act, PlannedMove, ticks_of
from kits.stock.services import record_acts, reversal_of
from takeoff.models import Item, Place, Record, Run, Site
from takeoff.records.answers import question_of
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import AskFirstError

_numbers = count(1)


def day(number: int = 2) -> date:
    """A day in March 2026."""
    return date(2026, 3, number)


def at(number: int = 2, hour: int = 12) -> datetime:
    """A moment in March 2026."""
    return datetime(2026, 3, number, hour, tzinfo=UTC)


def event_id() -> str:
    """An id that no other event has."""
    return f"e{next(_numbers):06}"


def report(site: Site, kind: str, *, event: str = "", number: int = 2, **row) -> Posting:
    """Keep a record of the store, whatever there is to look at, and return its posting."""
    row = {"id": event or event_id(), "at": at(number), **row}
    try:
        record = keep_one(site=site, kind=kind, row=row)
    except AskFirstError as asked:
        record = keep_one(site=site, kind=kind, row=row, confirmed=question_of(asked.said))
    return Posting.objects.of(site).get(event_id=record.event_id)


def counted(item: Item, quantity: int | str, **row) -> dict:
    """What a count says of one item; `partial`: more is to be counted."""
    return {"item": item, "counted": str(quantity), "part": row.pop("partial", None), **row}


@dataclass
class Received:
    posting: Posting
    cautions: tuple[str, ...]


def received(shipment: Shipment, *lines: dict, number: int = 2, event: str = "") -> Received:
    """Counts of what a shipment brought; the last posting, and what is to be looked at of all."""
    cautions: list[str] = []
    for line in lines:
        line = {**line, "package": line["package"].name} if line.get("package") else line
        posting = report(shipment.site, "receipts", shipment=shipment, number=number, event=event, **line)
        cautions += Record.objects.of(shipment.site).get(event_id=posting.event_id).said
    return Received(posting, tuple(cautions))


def stocked(item: Item, quantity: int | str, place: str = "Store", number: int = 1, **more) -> Posting:
    """An opening count: found in a bin."""
    return report(item.site, "counts", item=item, counted=str(quantity), bin=place, number=number, **more)


def handed(item: Item, quantity: int | str, run: Run, stage: str = "seals", number: int = 2, **more) -> Posting:
    return report(item.site, "issues", item=item, quantity=str(quantity), run=run, stage=stage, number=number, **more)


def given_back(item: Item, quantity: int | str, run: Run, stage: str = "seals", number: int = 3, **more) -> Posting:
    return report(item.site, "returns", item=item, quantity=str(quantity), run=run, stage=stage, number=number, **more)


def move_of(item: Item, quantity: Decimal | int | str, source: Place, target: Place, lot: str = "") -> PlannedMove:
    """A move of `quantity` in the item's unit."""
    return PlannedMove(item, ticks_of(quantity), source, target, lot)


def post(*, site: Site, event_id: str, kind: Posting.Kind, at: datetime, moves: list[PlannedMove], **more) -> Posting:
    """Post moves as they are, past any record."""
    return _posted(
        site,
        Act(
            posting=_posting(site, event_id, kind, at, **more),
            items=tuple(move.item for move in moves),
            places=tuple(place for move in moves for place in (move.source, move.target)),
            steps=lambda _books: moves,
            lots=tuple(move.lot for move in moves),
        ),
    )


def _posting(site: Site, event_id: str, kind: Posting.Kind, at: datetime, **more) -> Posting:
    return Posting(
        site=site, event_id=event_id, kind=kind, content_hash=event_id, at=at, recorded_at=timezone.now(), **more
    )


def _posted(site: Site, act: Act) -> Posting:
    (outcome,) = record_acts(site, [act])
    if outcome.error:
        raise outcome.error
    return act.posting


def reverse(*, site: Site, event_id: str, posting: Posting, at: datetime, reason: str) -> Posting:
    """Take a posting back, past any record."""
    by = _posting(site, event_id, Posting.Kind.REVERSAL, at, reason=reason)
    return _posted(site, reversal_of(posting, by))


def lying(item: Item) -> dict[str, Decimal]:
    """What lies where, by kind and name of the place (and lot), empty balances left out."""
    rows = Balance.objects.of(item.site).filter(item=item).select_related("place")
    return {
        f"{row.place.kind} {row.place.name}" + (f" [{row.lot}]" if row.lot else ""): row.quantity
        for row in rows
        if row.quantity
    }


def kept(item: Item, kind: Place.Kind) -> Decimal:
    """What all places of a kind hold of an item."""
    rows = Balance.objects.of(item.site).filter(item=item, place__kind=kind)
    return rows.aggregate(total=Sum("quantity"))["total"] or Decimal(0)


def moves_of(posting: Posting) -> list[tuple[str, str, Decimal, str]]:
    """A posting's moves as source, target, quantity and lot."""
    moves = Move.objects.of(posting.site).filter(posting=posting).order_by("pk").select_related("source", "target")
    return [(move.source.name, move.target.name, move.quantity, move.lot) for move in moves]
