"""Two at one truck: who make it, fill its kit's crate, send one batch, or load its list while somebody counts."""

import threading
from functools import partial

import pytest
from django.db import IntegrityError, connection

from kits.audit.proofs import prove_site
from kits.gate import records as gate
from kits.models import KitBox, PackingLine, Receipt, ReceiptLine, Shipment
from kits.receiving import sheets
from kits.receiving.packing_lists import PackingLists
from kits.stock import keeper, services
from takeoff.models import Record, Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.records.terms.errors import RecordError
from tests.factories.kits import KitFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, SupplierFactory, member
from tests.kits.makers import at, counted, lying, received
from tests.races.together import PATIENCE, at_once, meeting
from tests.takeoff.sheets.books import load

pytestmark = pytest.mark.django_db(transaction=True)
ON_POSTGRESQL = pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock")


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="north")


@pytest.fixture
def item(site):
    return ItemFactory(site=site, code="LUG")


def sound(site) -> list[str]:
    return [proof.claim for proof in prove_site(site) if not proof.holds]


@pytest.fixture
def same_truck(site, monkeypatch):
    """Two at the gate who make one truck, each having seen that there is none."""
    meet, make = meeting(lambda: None), gate.make_shipments
    monkeypatch.setattr(gate, "make_shipments", lambda rows: (meet(), make(rows)))
    row = {"shipment": "S9", "at": at(2)}
    return [partial(keep_one, site=site, kind="shipments_found", row={**row, "id": name}) for name in ("a", "b")]


def test_of_two_who_make_the_same_truck_one_is_told_that_it_is_there(site, same_truck):
    results = at_once(*same_truck)
    (refused,) = [result for result in results if isinstance(result, Exception)]
    assert isinstance(refused, RecordError)
    assert "known here already" in str(refused)
    assert Shipment.objects.of(site).count() == 1
    assert Record.objects.of(site).count() == 1


@ON_POSTGRESQL
def test_without_a_second_try_the_second_truck_ends_in_an_error_of_the_database(same_truck, monkeypatch):
    monkeypatch.setattr("takeoff.database.locks.TRIES", 1)
    assert any(isinstance(result, IntegrityError) for result in at_once(*same_truck))


def test_two_who_fill_the_same_new_crate_of_a_kit_make_it_serve_the_kit_once(site):
    kit = KitFactory(site=site, name="K1", run=RunFactory(site=site, name="NORTH"))
    shipment = ShipmentFactory(site=site, name="S1")
    items = [ItemFactory(site=site) for _ in range(2)]
    for item in items:
        PackingLineFactory(shipment=shipment, item=item, quantity=4, kit=kit)
    results = at_once(*[partial(received, shipment, counted(item, 4, bin="Crate 7")) for item in items])
    assert [str(result) for result in results if isinstance(result, Exception)] == []
    assert [lying(item)["bin Crate 7"] for item in items] == [4, 4]
    assert KitBox.objects.of(site).get().place.name == "Crate 7"
    assert sound(site) == []


@pytest.fixture
def two_tabs(site, item, monkeypatch):
    """One batch of counts sent by two tabs, each of which has read the books before the other writes."""
    shipment = ShipmentFactory(site=site, name="S1")
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    sender = member(site, "storekeeper")
    rows = [{"id": f"c{n}", "counted": "5", "part": "yes", "at": f"2026-03-02T1{n}:00Z"} for n in range(2)]
    sent = [Sent("receipts", {"shipment": "S1", "item": "LUG", **row}) for row in rows]
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    return [partial(take, site=site, sender=sender, roles=frozenset(["storekeeper"]), sent=sent) for _ in range(2)]


def once(site, item, two_tabs) -> None:
    results = at_once(*two_tabs)
    assert sorted(answer.answer for answers in results for answer in answers) == ["kept", "kept", "known", "known"]
    assert (lying(item)["bin Store"], Receipt.objects.of(site).count()) == (10, 2)
    assert sound(site) == []


def test_the_same_batch_sent_by_two_tabs_is_kept_once(site, item, two_tabs):
    once(site, item, two_tabs)


@ON_POSTGRESQL
def test_without_the_lock_the_ids_alone_keep_the_second_batch_out(site, item, two_tabs, monkeypatch):
    for module in (services, keeper):
        monkeypatch.setattr(module, "lock_items", lambda items: None)
    once(site, item, two_tabs)


@pytest.fixture
def list_and_count(site, item, monkeypatch):
    """The list of a truck that is loaded while somebody counts, and has read that the truck has none."""
    SupplierFactory(site=site, name="Bus works")
    keep_one(site=site, kind="shipments_found", row={"id": "f", "shipment": "S9", "at": at(2)})
    count = Sent("receipts", {"id": "c", "shipment": "S9", "item": "LUG", "counted": "10", "at": "2026-03-02T10:00Z"})
    begun, loaded, read = threading.Event(), threading.Event(), PackingLists.of

    def slowly(*args):
        found = read(*args)
        if not begun.is_set():
            begun.set()
            loaded.wait(3 * PATIENCE)  # which a load has to wait for, too, where it takes its locks
        return found

    def load_list():
        begun.wait(20)
        rows = [["shipment", "supplier", "item", "quantity"], ["S9", "Bus works", "LUG", 10]]
        try:
            return load({"shipments": rows})
        finally:
            loaded.set()

    monkeypatch.setattr(PackingLists, "of", slowly)
    sender, roles = member(site, "storekeeper"), frozenset(["storekeeper"])
    return [partial(take, site=site, sender=sender, roles=roles, sent=[count]), load_list]


def test_a_count_that_is_made_while_its_list_is_loaded_answers_the_list(site, item, list_and_count):
    results = at_once(*list_and_count)
    assert [str(result) for result in results if isinstance(result, Exception)] == []
    standing = ReceiptLine.objects.of(site).get(receipt__posting__reversed_by=None)
    assert standing.packing_line == PackingLine.objects.of(site).get()
    assert lying(item)["bin Store"] == 10
    assert sound(site) == []


@ON_POSTGRESQL
def test_without_the_lock_the_count_stays_beside_the_list(site, list_and_count, monkeypatch):
    monkeypatch.setattr(sheets, "lock_items", lambda items: None)
    at_once(*list_and_count)
    assert ReceiptLine.objects.of(site).get().packing_line is None
