"""A small site whose books a test fills act by act, through the services that write them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from fractions import Fraction
from itertools import count

from kits.models import Kit, KitLine, Order, OrderLine, PackingLine, Receipt, ReceiptLine, Shipment
from kits.stock.models import Lot, Posting
from kits.stock.places import Places
from takeoff.models import Cable, Item, Place, RuleBook, Run, Site, Stage, Supplier, Takeoff, TakeoffLine
from tests.kits.makers import move_of, post, reverse

_numbers = count(1)
AS_OF = date(2026, 5, 4)


def at(day: int = 1, month: int = 5, hour: int = 12) -> datetime:
    return datetime(2026, month, day, hour, tzinfo=UTC)


class Scene:
    """One site. Quantities are in the items' units."""

    def __init__(self, slug: str = "", **fields) -> None:
        slug = slug or f"site-{next(_numbers)}"
        self.site = Site.objects.create(slug=slug, name=slug, **fields)
        self.supplier = Supplier.objects.create(site=self.site, name="Supplier", lead_time_days=10)
        self.cable = Cable.objects.create(site=self.site, code="C500", size="500", material="Cu")
        self.book = RuleBook.objects.create(site=self.site, version=1, published_at=at(), content_hash="x")

    def item(self, code: str = "LUG", **fields) -> Item:
        fields.setdefault("supplier", self.supplier)
        return Item.objects.create(site=self.site, code=code, description=f"the {code}", **fields)

    def run(self, name: str = "CB-1", *, takeoff: bool = True, **fields) -> Run:
        basics = {"tiers": 1, "phases": 3, "cables_per_phase": 1, "voltage_class": "LV", "cable": self.cable}
        run = Run.objects.create(site=self.site, name=name, **{**basics, **fields})
        if takeoff:
            Takeoff.objects.create(run=run, book=self.book, inputs_hash="x", computed_at=at())
        return run

    def needs(self, run: Run, item: Item, stage: str, quantity, drawn=None) -> None:
        TakeoffLine.objects.create(
            takeoff=run.takeoff,
            item=item,
            stage=stage,
            exact=Fraction(quantity),
            exact_drawn=Fraction(quantity),
            computed=quantity,
            quantity=quantity,
            drawn=quantity if drawn is None else drawn,
        )

    def stage(self, run: Run, stage: str, planned: date | None = None, done: datetime | None = None) -> Stage:
        row, _ = Stage.objects.update_or_create(run=run, stage=stage, defaults={"planned": planned, "done": done})
        return row

    def promise(self, item: Item, quantity, run: Run | None = None, name: str = "KIT") -> Kit:
        kit, _ = Kit.objects.get_or_create(site=self.site, name=name, defaults={"run": run})
        KitLine.objects.create(kit=kit, item=item, quantity=quantity)
        return kit

    def ship(self, item: Item, quantity, name: str = "S-1", order: Order | None = None, **fields) -> PackingLine:
        shipment, _ = Shipment.objects.get_or_create(
            site=self.site, name=name, defaults={"supplier": self.supplier, **fields}
        )
        return PackingLine.objects.create(shipment=shipment, item=item, quantity=quantity, order=order)

    def order(self, item: Item, quantity, name: str = "O-1", state: str = "sent", expected=None) -> Order:
        order, _ = Order.objects.get_or_create(
            site=self.site, name=name, defaults={"supplier": self.supplier, "state": state}
        )
        OrderLine.objects.create(order=order, item=item, quantity=quantity, expected=expected)
        return order

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
            Lot.objects.create(item=line.item, code=lot, expires=expires)
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
        receipt = Receipt.objects.create(posting=posting, shipment=line.shipment)
        ReceiptLine.objects.create(
            receipt=receipt, packing_line=line, item=line.item, counted=counted, covers=counted, partial=partial
        )
        return posting

    def hand_out(self, item: Item, quantity, run: Run, stage: str, **more):
        return self.move(item, quantity, self.bin(), Places(self.site).handed_out(run, stage), kind="issue", **more)

    def reverse(self, posting: Posting, when=None) -> Posting:
        return reverse(
            site=self.site, event_id=f"e{next(_numbers)}", posting=posting, at=when or at(), reason="entered twice"
        )
