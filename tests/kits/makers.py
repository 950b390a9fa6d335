"""Rows for tests: each maker gives what is needed and lets the test say the rest."""

from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import count

from django.db.models import Sum

from kits.issuing.requests import GiveBack, HandOut, StockCount
from kits.issuing.services import count as count_stock
from kits.issuing.services import give_back, hand_out
from kits.models import Balance, Kit, Move, PackingLine, Posting, Shipment
from kits.receiving.acts import Counted, CountedDelivery
from kits.receiving.services import Received, receive
from takeoff.models import Cable, Item, Place, Run, Site, Supplier

_numbers = count(1)


def day(number: int = 2) -> date:
    """A day in March 2026."""
    return date(2026, 3, number)


def at(number: int = 2, hour: int = 12) -> datetime:
    """A moment in March 2026."""
    return datetime(2026, 3, number, hour, tzinfo=UTC)


def event_id() -> str:
    """An id that no other event has."""
    return f"e{next(_numbers)}"


def make_site(slug: str = "", **fields) -> Site:
    slug = slug or f"site-{next(_numbers)}"
    return Site.objects.create(slug=slug, name=slug, **fields)


def make_supplier(site: Site, name: str = "Supplier") -> Supplier:
    return Supplier.objects.of(site).get_or_create(site=site, name=name)[0]


def make_item(site: Site, code: str = "", **fields) -> Item:
    return Item.objects.create(site=site, code=code or f"I{next(_numbers)}", description="part", **fields)


def make_run(site: Site, name: str = "", **fields) -> Run:
    cable = Cable.objects.of(site).get_or_create(site=site, code="C", size="500", material="Cu")[0]
    basics = {"tiers": 1, "phases": 3, "cables_per_phase": 2, "voltage_class": "LV", "cable": cable}
    return Run.objects.create(site=site, name=name or f"R{next(_numbers)}", **{**basics, **fields})


def make_kit(site: Site, name: str = "", run: Run | None = None) -> Kit:
    return Kit.objects.create(site=site, name=name or f"K{next(_numbers)}", run=run)


def make_shipment(site: Site, name: str = "", **fields) -> Shipment:
    return Shipment.objects.create(site=site, name=name or f"S{next(_numbers)}", supplier=make_supplier(site), **fields)


def make_line(shipment: Shipment, item: Item, quantity: int | str, **fields) -> PackingLine:
    return PackingLine.objects.create(shipment=shipment, item=item, quantity=Decimal(quantity), **fields)


def counted(item: Item, quantity: int | str, **fields) -> Counted:
    return Counted(item=item, counted=Decimal(quantity), **fields)


def received(shipment: Shipment, *lines: Counted, number: int = 2, event: str = "") -> Received:
    delivery = CountedDelivery(event_id=event or event_id(), shipment=shipment, at=at(number), lines=lines)
    return receive(site=shipment.site, delivery=delivery)


def stocked(
    item: Item, quantity: int | str, place: str = "Store", number: int = 1, event: str = "", **fields
) -> Posting:
    """An opening count: found in a bin."""
    request = StockCount(
        event_id=event or event_id(), item=item, bin=place, counted=Decimal(quantity), at=at(number), **fields
    )
    return count_stock(site=item.site, request=request)


def handed(
    item: Item, quantity: int | str, run: Run, stage: str = "seals", number: int = 2, event: str = "", **fields
) -> Posting:
    request = HandOut(
        event_id=event or event_id(),
        item=item,
        quantity=Decimal(quantity),
        run=run,
        stage=stage,
        at=at(number),
        **fields,
    )
    return hand_out(site=item.site, request=request)


def given_back(
    item: Item, quantity: int | str, run: Run, stage: str = "seals", number: int = 3, event: str = "", **fields
) -> Posting:
    request = GiveBack(
        event_id=event or event_id(),
        item=item,
        quantity=Decimal(quantity),
        run=run,
        stage=stage,
        at=at(number),
        **fields,
    )
    return give_back(site=item.site, request=request)


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
