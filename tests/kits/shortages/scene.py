"""A small site whose books a test fills act by act, through the services that write them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from itertools import count

from kits.models import Kit, Order, PackingLine
from kits.stock.models import Posting
from kits.stock.places import Places
from takeoff.models import Item, Place, Run, Stage
from tests.factories.kits import (
    KitFactory,
    KitLineFactory,
    LotFactory,
    OrderFactory,
    OrderLineFactory,
    PackingLineFactory,
    ReceiptLineFactory,
    ShipmentFactory,
)
from tests.factories.takeoff import (
    CableFactory,
    ItemFactory,
    RuleBookFactory,
    RunFactory,
    SiteFactory,
    SupplierFactory,
    TakeoffFactory,
    TakeoffLineFactory,
)
from tests.kits.makers import move_of, post, reverse

_numbers = count(1)
AS_OF = date(2026, 5, 4)


def at(day: int = 1, month: int = 5, hour: int = 12) -> datetime:
    return datetime(2026, month, day, hour, tzinfo=UTC)


class Scene:
    """One site. Quantities are in the items' units."""

    def __init__(self, slug: str = "", **fields) -> None:
        self.site = SiteFactory(**({"slug": slug} if slug else {}), **fields)
        self.supplier = SupplierFactory(site=self.site, lead_time_days=10)
        self.cable = CableFactory(site=self.site, code="C500")
        self.book = RuleBookFactory(site=self.site)

    def item(self, code: str = "LUG", **fields) -> Item:
        return ItemFactory(**{"site": self.site, "code": code, "supplier": self.supplier, **fields})

    def run(self, name: str = "CB-1", *, takeoff: bool = True, **fields) -> Run:
        basics = {"cables_per_phase": 1, "ground_cables": 1, "cable": self.cable}
        run = RunFactory(site=self.site, name=name, **{**basics, **fields})
        if takeoff:
            TakeoffFactory(run=run, book=self.book)
        return run

    def needs(self, run: Run, item: Item, stage: str, quantity, drawn=None) -> None:
        drawn = quantity if drawn is None else drawn
        TakeoffLineFactory(takeoff=run.takeoff, item=item, stage=stage, quantity=quantity, drawn=drawn)

    def stage(self, run: Run, stage: str, planned: date | None = None, done: datetime | None = None) -> Stage:
        row, _ = Stage.objects.update_or_create(run=run, stage=stage, defaults={"planned": planned, "done": done})
        return row

    def promise(self, item: Item, quantity, run: Run | None = None, name: str = "KIT") -> Kit:
        return KitLineFactory(kit=KitFactory(site=self.site, name=name, run=run), item=item, quantity=quantity).kit

    def ship(self, item: Item, quantity, name: str = "S-1", order: Order | None = None, **fields) -> PackingLine:
        shipment = ShipmentFactory(site=self.site, name=name, **fields)
        return PackingLineFactory(shipment=shipment, item=item, quantity=quantity, order=order)

    def order(self, item: Item, quantity, name: str = "O-1", state: str = "sent", expected=None) -> Order:
        order = OrderFactory(site=self.site, name=name, state=state)
        return OrderLineFactory(order=order, item=item, quantity=quantity, expected=expected).order

    def bin(self, name: str = "Store") -> Place:
        return Places(self.site).bin(name)

    def move(self, item: Item, quantity, source: Place, target: Place, *, lot: str = "", when=None, kind="transfer"):
        return post(
            site=self.site,
            event_id=f"e{next(_numbers)}",
            kind=Posting.Kind(kind),
            at=when or at(),
            moves=[move_of(item, quantity, source, target, lot)],
        )

    def receive(self, line: PackingLine, counted, *, partial=False, good=None, when=None, lot="", expires=None):
        """Count a packing line: `good` of it to the store, the rest to quarantine."""
        places = Places(self.site)
        if expires:
            LotFactory(item=line.item, code=lot, expires=expires)
        good = counted if good is None else good
        ends = [(good, places.bin("")), (counted - good, places.quarantine())]
        posting = post(
            site=self.site,
            event_id=f"e{next(_numbers)}",
            kind=Posting.Kind.RECEIPT,
            at=when or at(),
            moves=[
                move_of(line.item, quantity, places.supplier(self.supplier), target, lot)
                for quantity, target in ends
                if quantity
            ],
        )
        ReceiptLineFactory(packing_line=line, receipt__posting=posting, counted=counted, partial=partial)
        return posting

    def hand_out(self, item: Item, quantity, run: Run, stage: str, **more):
        return self.move(item, quantity, self.bin(), Places(self.site).handed_out(run, stage), kind="issue", **more)

    def reverse(self, posting: Posting, when=None) -> Posting:
        return reverse(
            site=self.site, event_id=f"e{next(_numbers)}", posting=posting, at=when or at(), reason="entered twice"
        )
