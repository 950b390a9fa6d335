"""Kits with several boxes, and bins that serve a kit."""

from datetime import date

import pytest

from kits.audit.proofs import prove_site
from kits.issuing.queries import debts
from kits.models import KitBox, Shipment
from kits.shortages.queries import reconcile
from kits.stock.books.errors import NotThereError, UnknownPlaceError
from kits.stock.places import Places
from takeoff.models import Place, Run, Site
from tests.factories.takeoff import TakeoffLineFactory
from tests.kits.makers import at, counted, handed, lying, received, reverse, stocked
from tests.kits.sheets import BASE, site_with, told
from tests.takeoff.sheets.books import load

pytestmark = pytest.mark.django_db
K1_TWICE = [*BASE["shipments"], ["S3", "Bus works", "LUG", 6, None, None, "K1", None, None]]


@pytest.fixture
def site():
    assert told(site_with(shipments=K1_TWICE)) == []
    return Site.objects.get(slug="north")


@pytest.fixture
def lug(site):
    return site.items.get(code="LUG")


@pytest.fixture
def runs(site):
    return {run.name: run for run in Run.objects.of(site)}


def shipment(site, name="S3"):
    return Shipment.objects.of(site).get(name=name)


def serving(site) -> dict[str, str]:
    return {box.place.name: box.kit.name for box in KitBox.objects.of(site).select_related("place", "kit")}


def boxes(*rows, **options):
    return load({"kit_boxes": [["bin", "kit"], *rows]}, **options)


def proved(site) -> bool:
    return all(proof.holds for proof in prove_site(site))


def test_a_new_bin_named_for_what_a_run_waits_for_becomes_a_box_of_its_kit(site, lug, runs):
    received(shipment(site), counted(lug, 6, bin="Crate 7"))
    assert (lying(lug)["bin Crate 7"], serving(site)) == (6, {"Crate 7": "K1"})
    with pytest.raises(NotThereError, match="in boxes of other runs: 6 in Crate 7 for NORTH"):
        handed(lug, 1, runs["SOUTH"], number=3)
    handed(lug, 4, runs["NORTH"], number=3)
    assert lying(lug)["bin Crate 7"] == 2
    assert proved(site)


def test_a_kit_has_as_many_boxes_as_it_came_in(site, lug, runs):
    crate = shipment(site, "S1").packages.get(name="crate 1")
    received(shipment(site, "S1"), counted(lug, 10, package=crate, bin="Crate 1"))
    received(shipment(site), counted(lug, 6))
    assert (lying(lug)["bin Crate 1"], lying(lug)["kit_box K1"]) == (10, 6)
    assert serving(site) == {"Crate 1": "K1", "K1": "K1"}
    assert {place.name for place in Places(site).boxes_of(runs["NORTH"]).values()} == {"Crate 1", "K1"}
    handed(lug, 13, runs["NORTH"], number=3)
    assert proved(site)


def test_a_bin_that_is_there_or_that_others_name_too_stays_everybodys(site, lug, runs):
    stocked(lug, 1, place="Shelf 1")
    received(shipment(site), counted(lug, 2, bin="shelf 1", partial="yes"))
    both = shipment(site, "S1")  # its lines are for K1 and for everybody
    received(both, counted(lug, 5, bin="Shelf 2"))
    received(shipment(site), counted(lug, 2, bin="Store", partial="yes"), number=3)
    assert serving(site) == {}
    handed(lug, 10, runs["SOUTH"], number=4)
    assert proved(site)


def test_two_kits_in_one_new_bin_of_one_load_leave_it_to_everybody(site, lug):
    rows = [
        ["S4", "Bus works", "LUG", 1, None, None, "K3", None, None],
        ["S5", "Bus works", "LUG", 1, None, None, "K1", None, None],
    ]
    tables = {
        "kits": [["kit", "item", "quantity", "run"], ["K3", "LUG", 1, "SOUTH"]],
        "shipments": [BASE["shipments"][0], *rows],
        "receipts": [
            ["id", "shipment", "item", "counted", "at", "bin"],
            ["r1", "S4", "LUG", 1, "2026-03-02", "Crate 9"],
            ["r2", "S5", "LUG", 1, "2026-03-02", "Crate 9"],
            ["r3", "S3", "LUG", 6, "2026-03-02", "Crate 8"],
        ],
        "counts": [["id", "item", "counted", "at", "bin"], ["c1", "SEAL", 1, "2026-03-02", "Crate 10"]],
    }
    assert told(load(tables)) == []
    assert serving(site) == {"Crate 8": "K1"}


def test_a_bin_can_be_made_to_serve_a_kit_another_and_everybody_again(site, lug, runs):
    assert told(boxes(["Crate 7", "K1"], ["crate 8", "K1"])) == []
    assert serving(site) == {"Crate 7": "K1", "crate 8": "K1"}
    stocked(lug, 5, place="Crate 7")
    with pytest.raises(UnknownPlaceError, match="Crate 7 is the box of NORTH"):
        handed(lug, 1, runs["SOUTH"], bin="Crate 7")
    assert told(boxes(["CRATE 7", None], ["Crate 8", "K2"])) == []
    assert serving(site) == {"crate 8": "K2"}
    handed(lug, 1, runs["SOUTH"], bin="Crate 7")
    result = boxes(["CRATE 7", None], ["Crate 8", "K2"])
    assert [outcome.counts["unchanged"] for outcome in result.tables] == [2]
    assert proved(site)


def test_a_bin_in_which_something_lies_for_others_is_asked_about(site, lug):
    stocked(lug, 5, place="Shelf 1")
    result = boxes(["Shelf 1", "K1"], ["Shelf 2", "K1"], confirmed=False)
    assert not result.loaded
    assert [(caution.found, caution.text, caution.asks) for caution in result.cautions] == [
        ("Shelf 1", "holds stock that is for every run: from now on it is for NORTH", True)
    ]
    assert boxes(["Shelf 1", "K1"]).loaded
    (caution,) = boxes(["Shelf 1", "K2"], confirmed=False).cautions
    assert caution.text == "holds stock that is for NORTH: from now on it is for every run"
    assert boxes(["Shelf 1", "K1"], confirmed=False).loaded, "nothing changes: nothing is asked"


def test_a_sheet_without_kits_leaves_boxes_as_they_are(site):
    boxes(["Crate 7", "K1"])
    assert told(load({"kit_boxes": [["bin"], ["Crate 7"]]})) == []
    assert serving(site) == {"Crate 7": "K1"}


@pytest.mark.parametrize("name", ["Store", "k1", "Quarantine, damaged"])
def test_what_is_no_bin_of_its_own_serves_no_kit(site, name):
    (problem,) = told(boxes([name, "K2"]))
    assert "a bin: not Store, the name of a kit, or what is on hold" in problem


def test_a_bin_named_twice_is_refused(site):
    (problem,) = told(boxes(["Crate 7", "K1"], ["CRATE 7", "K2"]))
    assert "a bin once: row 2 names it, too" in problem


def test_readiness_shortages_and_debts_see_every_box(site, lug, runs):
    for name in ("NORTH", "SOUTH"):
        TakeoffLineFactory(takeoff=runs[name].takeoff, item=lug, stage="enclosure", quantity=6)
    boxes(["Crate 7", "K1"], ["Crate 8", "K1"])
    stocked(lug, 4, place="Crate 7")
    stocked(lug, 4, place="Crate 8")
    found = reconcile(site, date(2026, 3, 20))
    rows = {(row.run, row.stage): row for row in found.readiness}
    assert not rows["NORTH", "enclosure"].missing
    assert [missing.quantity for missing in rows["SOUTH", "enclosure"].missing] == [60_000]
    borrowed = handed(lug, 3, runs["SOUTH"], lender=runs["NORTH"], number=3)
    handed(lug, 5, runs["NORTH"], number=4)
    assert [(one.borrower.name, one.lender.name, one.quantity) for one in debts(site)] == [("SOUTH", "NORTH", 3)]
    reverse(site=site, event_id="u", posting=borrowed, at=at(5), reason="wrong tap")
    assert sum(quantity for place, quantity in lying(lug).items() if "Crate" in place) == 3
    assert proved(site)


def test_the_page_of_a_bin_says_whom_it_serves(site, lug, client, django_user_model):
    boxes(["Crate 7", "K1"])
    place = Place.objects.of(site).get(name="Crate 7")
    user = django_user_model.objects.create_user("sam")
    site.members.create(user=user, role="storekeeper")
    client.force_login(user)
    assert "serves K1 for NORTH" in client.get(f"/{site.slug}/stock/places/{place.pk}/").content.decode()
