"""Two people at one order."""

from functools import partial
from uuid import uuid4

import pytest
from django.db import connection

from kits.models import Order, OrderLine, OrderStep
from kits.orders.order_book import OrderBook
from kits.orders.records import OrderKeeper
from kits.reorders import services
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import RecordError
from tests.factories.kits import OrderFactory, OrderLineFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SupplierFactory, TakeoffFactory, TakeoffLineFactory, member
from tests.kits.makers import at
from tests.races.together import at_once, meeting

pytestmark = pytest.mark.django_db(transaction=True)
ON_POSTGRESQL = pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock")


@pytest.fixture
def cancel_and_reply(monkeypatch):
    """One who cancels an order while another tells of its reply, both having read it first, where they can."""
    line = OrderLineFactory(order=OrderFactory(name="PO-1"), quantity=10)
    site = line.order.site
    told = {"order": "PO-1", "at": at(4)}
    cancel = told | {"id": "a", "step": "rest cancelled"}
    reply = told | {"id": "b", "item": line.item, "quantity": 10, "how": "mail"}
    monkeypatch.setattr(OrderBook, "__init__", meeting(OrderBook.__init__))
    return [
        partial(keep_one, site=site, kind="order_steps", row=cancel),
        partial(keep_one, site=site, kind="replies", row=reply),
    ]


def test_a_reply_to_what_is_cancelled_is_told_so_or_comes_before(cancel_and_reply):
    refused = [result for result in at_once(*cancel_and_reply) if isinstance(result, RecordError)]
    assert all("PO-1 is cancelled" in str(error) for error in refused)
    assert Order.objects.get().state == "cancelled"
    assert OrderStep.objects.filter(step="rest cancelled").count() == 1


@ON_POSTGRESQL
def test_without_the_lock_nobody_is_told(cancel_and_reply, monkeypatch):
    monkeypatch.setattr(OrderKeeper, "lock", lambda *_: None)
    assert not any(isinstance(result, RecordError) for result in at_once(*cancel_and_reply))


@pytest.fixture
def two_ends(monkeypatch):
    """Two people who end one order, each of whom has read its steps before the other writes, where they can."""
    line = OrderLineFactory(order=OrderFactory(name="PO-1"), quantity=10)
    monkeypatch.setattr(OrderBook, "__init__", meeting(OrderBook.__init__))
    rows = [{"id": said, "order": "PO-1", "at": at(4), "step": said} for said in ("rest cancelled", "closed")]
    return [partial(keep_one, site=line.order.site, kind="order_steps", row=row) for row in rows]


def test_of_two_who_end_an_order_one_is_told_that_it_is_over(two_ends):
    refused = [result for result in at_once(*two_ends) if isinstance(result, RecordError)]
    assert len(refused) == OrderStep.objects.filter(step__in=["rest cancelled", "closed"]).count() == 1


@ON_POSTGRESQL
def test_without_the_lock_it_ends_twice(two_ends, monkeypatch):
    monkeypatch.setattr(OrderKeeper, "lock", lambda *_: None)
    at_once(*two_ends)
    assert OrderStep.objects.filter(step__in=["rest cancelled", "closed"]).count() == 2


@pytest.fixture
def two_proposals(monkeypatch):
    """Two purchasers who were shown the same shortage and draft an order of it at once."""
    supplier = SupplierFactory(name="Maker")
    site = supplier.site
    item = ItemFactory(site=site, code="LUG", supplier=supplier)
    takeoff = TakeoffFactory(run=RunFactory(site=site))
    TakeoffLineFactory(takeoff=takeoff, item=item, quantity=10)
    seen = {f"i{item.pk}//": 100_000}
    monkeypatch.setattr(services, "propose", meeting(services.propose))
    return [partial(services.draft_orders, site=site, sender=member(site, "purchaser"), seen=seen) for _ in range(2)]


def test_the_same_need_is_drafted_once_and_the_second_is_told(two_proposals):
    results = at_once(*two_proposals)
    assert sorted(len(result.orders) for result in results) == [0, 1]
    (second,) = [result for result in results if not result.orders]
    assert [why for _, why in second.left_out] == ["asked for already: ORD-01 10"]
    assert OrderLine.objects.get().quantity == 10


@ON_POSTGRESQL
def test_without_the_lock_it_is_drafted_twice(two_proposals, monkeypatch):
    monkeypatch.setattr(services, "lock_wares", lambda *_: None)
    monkeypatch.setattr(services, "next_name", lambda _site: str(uuid4()))
    at_once(*two_proposals)
    assert OrderLine.objects.count() == 2
