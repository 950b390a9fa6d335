"""What is made for a run: its lot says for which, and it is handed to no other."""

import pytest

from kits.stock.books.errors import LotError
from tests.factories.kits import KitFactory, OrderFactory, OrderLineFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.makers import counted, handed, lying, moves_of, received, report, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory()


@pytest.fixture
def plate(site):
    return ItemFactory(site=site, code="PLATE", for_run=True)


@pytest.fixture
def runs(site):
    return [RunFactory(site=site, name=name) for name in ("CB-01", "CB-02", "CB-03")]


def test_the_run_of_the_kit_is_the_lot_of_what_comes_for_it(site, plate, runs):
    shipment = ShipmentFactory(site=site)
    for run in runs[:2]:
        PackingLineFactory(
            shipment=shipment, item=plate, quantity=3, kit=KitFactory(site=site, name=f"K {run}", run=run)
        )
    received(shipment, counted(plate, 5, bin="Shelf"), counted(plate, 1, condition="damaged"))
    assert lying(plate) == {
        "supplier Supplier [CB-01]": -3,
        "supplier Supplier [CB-02]": -3,
        "bin Shelf [CB-01]": 3,
        "bin Shelf [CB-02]": 2,
        "quarantine Quarantine, damaged [CB-02]": 1,
    }


def test_else_the_one_run_that_the_order_names_it_for(site, plate, runs):
    order = OrderFactory(site=site)
    OrderLineFactory(order=order, item=plate, quantity=2, run=runs[2])
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=plate, quantity=2, order=order)
    received(shipment, counted(plate, 2))
    assert lying(plate)["bin Store [CB-03]"] == 2


def test_where_neither_says_it_the_lot_is_asked_for_and_must_name_runs(site, plate, runs):
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=plate, quantity=2)
    for lot in ("", "CB-09", "CB-01, CB-09"):
        with pytest.raises(LotError, match="Which run is PLATE made for") as asked:
            received(shipment, counted(plate, 2, lot=lot))
        assert asked.value.column == "lot"
    received(shipment, counted(plate, 2, lot="cb-02,CB-01"))
    assert lying(plate)["bin Store [CB-01, CB-02]"] == 2


def test_a_count_says_for_which_run(plate, runs):
    with pytest.raises(LotError, match="Which run is PLATE made for"):
        stocked(plate, 2)
    stocked(plate, 2, lot="CB-02")
    stocked(plate, 0, "Shelf")
    assert lying(plate)["bin Store [CB-02]"] == 2


def test_a_run_gets_what_was_made_for_it_alone_before_what_fits_others_too(plate, runs):
    stocked(plate, 1, lot="CB-01, CB-02")
    stocked(plate, 1, lot="CB-02")
    stocked(plate, 5, lot="CB-03")
    assert moves_of(handed(plate, 1, runs[1]))[0][3] == "CB-02"
    with pytest.raises(LotError, match=r"too few of these are for CB-02: CB-03 \(5\) are for others"):
        handed(plate, 2, runs[1])
    with pytest.raises(LotError, match="are for others"):
        handed(plate, 1, runs[1], lot="CB-03")
    assert moves_of(handed(plate, 1, runs[1]))[0][3] == "CB-01, CB-02"


def test_moved_to_another_bin_it_is_asked_which(site, plate, runs):
    stocked(plate, 1, lot="CB-01")
    stocked(plate, 1, lot="CB-02")
    stocked(plate, 0, "Shelf")
    with pytest.raises(LotError, match=r"Which lot of PLATE\? There is CB-01 \(1\), CB-02 \(1\) in Store\."):
        report(site, "transfers", item=plate, quantity=1, source="Store", target="Shelf")
    report(site, "transfers", item=plate, quantity=1, source="Store", target="Shelf", lot="CB-02")
    assert lying(plate)["bin Shelf [CB-02]"] == 1
