"""Rows for tests: each maker gives what is needed and lets the test say the rest."""

from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import count

from kits.models import Kit, PackingLine, Shipment
from takeoff.models import Cable, Item, Run, Site, Supplier

_numbers = count(1)
DAY = date(2026, 3, 2)


def at(day: int = 2, hour: int = 12) -> datetime:
    """A moment in March 2026."""
    return datetime(2026, 3, day, hour, tzinfo=UTC)


def event_id() -> str:
    """An id that no other event has."""
    return f"e{next(_numbers)}"


def make_site(slug: str = "") -> Site:
    slug = slug or f"site-{next(_numbers)}"
    return Site.objects.create(slug=slug, name=slug)


def make_supplier(site: Site, name: str = "Supplier") -> Supplier:
    return Supplier.objects.of(site).get_or_create(site=site, name=name)[0]


def make_item(site: Site, code: str = "", **fields) -> Item:
    return Item.objects.create(site=site, code=code or f"I{next(_numbers)}", description="part", **fields)


def make_run(site: Site, name: str = "", **fields) -> Run:
    cable = Cable.objects.of(site).get_or_create(site=site, code="C", size="500", material="Cu")[0]
    basics = {"tiers": 1, "phases": 3, "cables_per_phase": 2, "voltage_class": "LV", "cable": cable}
    return Run.objects.create(site=site, name=name or f"R{next(_numbers)}", **{**basics, **fields})


def make_kit(site: Site, name: str = "", run: Run | None = None, **quantities: int) -> Kit:
    return Kit.objects.create(site=site, name=name or f"K{next(_numbers)}", run=run)


def make_shipment(site: Site, name: str = "", **fields) -> Shipment:
    return Shipment.objects.create(site=site, name=name or f"S{next(_numbers)}", supplier=make_supplier(site), **fields)


def make_line(shipment: Shipment, item: Item, quantity: int | str, **fields) -> PackingLine:
    return PackingLine.objects.create(shipment=shipment, item=item, quantity=Decimal(quantity), **fields)
