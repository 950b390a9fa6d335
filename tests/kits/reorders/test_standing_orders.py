"""How orders stand: what of their lines was shipped and received, of items and of reels."""

from datetime import date

import pytest

from kits.models import Order
from kits.reorders.standing_orders import standings
from takeoff.models import Site
from takeoff.records.services import keep_one
from tests.factories.kits import OrderFactory, OrderLineFactory, PackingLineFactory, ShipmentFactory
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, ItemFactory, RunFactory, SiteFactory, SupplierFactory
from tests.kits.makers import at, counted, received

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(monkeypatch) -> Order:
    monkeypatch.setattr(Site, "today", lambda _: date(2026, 3, 10))
    site = SiteFactory(slug="here")
    return OrderFactory(site=site, name="PO-1", supplier=SupplierFactory(site=site, name="Maker", lead_time_days=5))


def stands(order):
    (one,) = standings(order.site, [Order.objects.get(pk=order.pk)])
    figures = [(line.ordered, line.shipped, line.received, line.to_count, line.open) for line in one.lines]
    return one, [tuple(ticks // 10_000 for ticks in line) for line in figures]


def test_what_is_shipped_is_of_the_lines_of_an_item_in_turn_and_counts_make_it_part_received(order):
    item = ItemFactory(site=order.site, code="PLATE", for_run=True)
    for name in ("CB-1", "CB-2"):
        OrderLineFactory(order=order, item=item, run=RunFactory(site=order.site, name=name), quantity=4)
    shipment = ShipmentFactory(site=order.site, name="S-1")
    PackingLineFactory(shipment=shipment, item=item, quantity=6, order=order)
    one, figures = stands(order)
    assert (figures, one.state, one.next.kind) == ([(4, 4, 0, 4, 0), (4, 2, 0, 2, 2)], "sent", "reply")
    received(shipment, counted(item, 5, lot="CB-1, CB-2"))
    one, figures = stands(order)
    assert (figures, one.state) == ([(4, 4, 4, 0, 0), (4, 2, 1, 0, 2)], "part received")


def test_reels_on_the_way_are_shipped_and_those_here_received(order):
    cable = CableFactory(site=order.site, code="C-500")
    OrderLineFactory(order=order, item=None, cable=cable, reel_length=152_400, quantity=3)
    for state in ("on the way", "on site"):
        ReelFactory(site=order.site, cable=cable, length=152_400, delivery="PO-1", state=state)
    one, figures = stands(order)
    assert (figures, one.state) == ([(3, 2, 1, 1, 1)], "part received")


def test_all_that_came_is_to_be_closed_and_what_is_shipped_is_to_be_counted(order):
    line = OrderLineFactory(order=order, quantity=4)
    shipment = ShipmentFactory(site=order.site, name="S-1")
    PackingLineFactory(shipment=shipment, item=line.item, quantity=4, order=order)
    assert stands(order)[0].next.kind == "count"
    received(shipment, counted(line.item, 3))
    assert stands(order)[0].next.kind == "close"


def test_the_lead_time_gives_a_day_until_somebody_says_one(order):
    line = OrderLineFactory(order=order, quantity=4, sent=date(2026, 3, 8))
    one, _ = stands(order)
    assert (one.lines[0].provisional, one.next.kind) == (date(2026, 3, 13), "reply")
    row = {"id": "r", "order": "PO-1", "item": line.item, "quantity": 4, "how": "phone", "arrives": "2026-03-12"}
    keep_one(site=order.site, kind="replies", row=row | {"at": at(9)})
    one, _ = stands(order)
    assert (one.lines[0].provisional, one.spoken, one.next.kind) == (None, True, "number")
    monday = row | {"id": "q", "at": at(10), "how": "mail", "price": "2.50"}
    keep_one(site=order.site, kind="replies", row=monday)
    one, _ = stands(order)
    assert (one.spoken, one.lines[0].price, one.total) == (False, 250, 1000)


def test_a_free_replacement_costs_nothing_and_no_price_is_not_nothing(order):
    OrderLineFactory(order=order, quantity=4, kind="no charge", price=100)
    OrderLineFactory(order=order, quantity=4)
    one, _ = stands(order)
    assert (one.total, one.without_price) == (0, 1)
