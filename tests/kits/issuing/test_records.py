"""Hand-outs, returns, borrows and counts."""

from decimal import Decimal

import pytest

from kits.issuing.queries import debts
from kits.models import Lot, Posting
from kits.stock.books.errors import LedgerError, LotError, NotThereError, UnknownPlaceError
from kits.stock.places import Places
from takeoff.models import Place
from tests.factories.kits import KitFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.makers import (
    at,
    counted,
    day,
    event_id,
    given_back,
    handed,
    kept,
    lying,
    moves_of,
    received,
    report,
    reverse,
    stocked,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory()


@pytest.fixture
def item(site):
    return ItemFactory(site=site, code="SEAL")


@pytest.fixture
def run(site):
    return RunFactory(site=site, name="NORTH")


def boxed(item, run, quantity):
    """Put some of an item into the box of a kit of a run."""
    kit = KitFactory(site=item.site, name=f"KIT {run}", run=run)
    shipment = ShipmentFactory(site=item.site)
    PackingLineFactory(shipment=shipment, item=item, quantity=quantity, kit=kit)
    received(shipment, counted(item, quantity), number=1)
    return kit


def test_a_hand_out_comes_from_the_runs_own_box_before_the_pool(site, item, run):
    boxed(item, run, 3)
    stocked(item, 5)
    assert moves_of(handed(item, 4, run)) == [
        ("KIT NORTH", "NORTH seals", Decimal(3), ""),
        ("Store", "NORTH seals", Decimal(1), ""),
    ]


def test_another_runs_box_is_left_alone_and_the_error_names_it(site, item, run):
    boxed(item, RunFactory(site=site, name="SOUTH"), 9)
    stocked(item, 2)
    with pytest.raises(NotThereError) as caught:
        handed(item, 4, run)
    assert str(caught.value) == (
        "SEAL: 4 each asked, 2 there (2 in Store); in boxes of other runs: 9 in KIT SOUTH for SOUTH; "
        "to borrow it, name the lender."
    )


def test_first_expired_goes_out_first_and_what_has_expired_does_not(site, item, run):
    stocked(item, 2, lot="LATE", expires=day(20))
    stocked(item, 2, lot="SOON", expires=day(9))
    stocked(item, 2, lot="GONE", expires=day(1))
    stocked(item, 2, lot="KEEPS")
    posting = handed(item, 5, run, number=2)
    assert [(lot, quantity) for _, _, quantity, lot in moves_of(posting)] == [("SOON", 2), ("LATE", 2), ("KEEPS", 1)]
    with pytest.raises(NotThereError) as caught:
        handed(item, 2, run, number=2)
    assert str(caught.value) == (
        "SEAL: 2 each asked, 1 there (1 of lot KEEPS in Store); expired and not to be handed out: "
        "2 of lot GONE in Store, usable to 2026-03-01."
    )


def test_a_lot_is_usable_on_its_last_day_by_the_sites_clock(run, item, site):
    site.timezone = "America/Chicago"
    stocked(item, 2, lot="L", expires=day(1))
    # 2 March 03:00 UTC is still 1 March on site.
    site.save()
    assert handed(item, 1, run, at=at(2, hour=3)).kind == "issue"


def test_a_named_lot_that_has_expired_is_refused(site, item, run):
    stocked(item, 2, lot="GONE", expires=day(1))
    with pytest.raises(LotError, match="Lot GONE of SEAL could be used to 2026-03-01: it is not handed out"):
        handed(item, 1, run, lot="GONE")


def test_a_bin_that_nothing_made_is_refused(item, run):
    with pytest.raises(UnknownPlaceError, match="There is no bin 'Shelf 9'; a receipt, return or count makes one"):
        handed(item, 1, run, bin="Shelf 9")


def test_a_bins_name_is_found_in_any_case(item, run):
    stocked(item, 2, "Shelf 9")
    assert moves_of(handed(item, 1, run, bin="shelf  9")) == [("Shelf 9", "NORTH seals", Decimal(1), "")]


def test_nothing_is_handed_out_of_quarantine(site, item, run):
    Places(site).quarantine()
    with pytest.raises(UnknownPlaceError, match="Quarantine holds nothing that can be handed out"):
        handed(item, 1, run, bin="Quarantine")


def test_a_borrow_takes_from_the_lenders_box_and_is_owed_until_the_lender_draws(site, item, run):
    lender = RunFactory(site=site, name="SOUTH")
    boxed(item, lender, 4)
    stocked(item, 6)
    posting = handed(item, 5, run, lender=lender)
    assert [source for source, *_ in moves_of(posting)] == ["KIT SOUTH", "Store"]
    assert [(owed.borrower, owed.lender, owed.quantity) for owed in debts(site)] == [(run, lender, 5)]
    handed(item, 2, lender, number=3)
    assert [owed.quantity for owed in debts(site)] == [3]
    handed(item, 3, lender, number=4)
    assert debts(site) == []


def test_a_borrow_that_was_reversed_is_not_owed(site, item, run):
    stocked(item, 6)
    posting = handed(item, 5, run, lender=RunFactory(site=site))
    reverse(site=site, event_id=event_id(), posting=posting, at=at(3), reason="wrong run")
    assert debts(site) == []


def test_another_runs_box_can_be_named_only_with_its_run_as_lender(site, item, run):
    south = RunFactory(site=site, name="SOUTH")
    boxed(item, south, 4)
    with pytest.raises(UnknownPlaceError, match="KIT SOUTH is the box of SOUTH: say that it is borrowed from SOUTH"):
        handed(item, 1, run, bin="KIT SOUTH")
    assert moves_of(handed(item, 1, run, bin="KIT SOUTH", lender=south))[0][0] == "KIT SOUTH"


def test_a_run_does_not_borrow_from_itself(item, run):
    with pytest.raises(LedgerError, match="NORTH cannot borrow from itself"):
        handed(item, 1, run, lender=run)


def test_what_comes_back_good_can_be_handed_out_again(item, run):
    stocked(item, 5)
    handed(item, 5, run)
    given_back(item, 2, run)
    assert (lying(item)["bin Store"], lying(item)["handed_out NORTH seals"]) == (2, 3)


def test_what_comes_back_damaged_goes_to_quarantine(item, run):
    stocked(item, 5)
    handed(item, 5, run)
    given_back(item, 2, run, condition="damaged")
    assert kept(item, Place.Kind.QUARANTINE) == 2


def test_what_comes_back_spoiled_stays_with_its_stage(item, run):
    stocked(item, 5)
    handed(item, 5, run)
    given_back(item, 2, run, condition="spoiled")
    assert (kept(item, Place.Kind.HANDED_OUT), kept(item, Place.Kind.SPOILED)) == (3, 2)


def test_no_more_comes_back_than_was_handed_out(item, run):
    stocked(item, 5)
    handed(item, 2, run)
    with pytest.raises(NotThereError, match=r"SEAL: 3 each asked, 2 there \(2 in NORTH seals\)."):
        given_back(item, 3, run)


def test_without_a_lot_what_keeps_longest_comes_back(item, run):
    stocked(item, 2, lot="SOON", expires=day(9))
    stocked(item, 2, lot="LATE", expires=day(20))
    handed(item, 4, run)
    assert [lot for *_, lot in moves_of(given_back(item, 3, run))] == ["LATE", "SOON"]


def test_an_opening_count_is_found_a_later_one_loses_the_difference(item):
    stocked(item, 5)
    assert kept(item, Place.Kind.LOST_FOUND) == -5
    stocked(item, 3)
    assert (lying(item)["bin Store"], kept(item, Place.Kind.LOST_FOUND)) == (3, -3)


def test_a_count_that_agrees_is_kept_as_an_act_without_moves(site, item):
    stocked(item, 5)
    posting = stocked(item, 5)
    assert moves_of(posting) == []
    assert Posting.objects.of(site).filter(kind="count").count() == 2


def test_a_count_says_how_long_a_lot_can_be_used(site, item):
    stocked(item, 5, lot="L", expires=day(9))
    assert Lot.objects.of(site).get(code="L").expires == day(9)
    with pytest.raises(LotError, match="Lot L of SEAL was recorded before, to be used to 2026-03-09"):
        stocked(item, 5, lot="L", expires=day(10))


def test_a_count_with_a_last_day_and_no_lot_is_a_lot_by_its_day(item):
    stocked(item, 5, expires=day(9))
    assert lying(item)["bin Store [to 2026-03-09]"] == 5


def test_scrap_and_what_goes_back_to_the_supplier_leave_the_store(site, item):
    stocked(item, 5)
    stocked(item, 3, "Quarantine")
    report(site, "scraps", item=item, quantity=2, bin="Store", reason="bent")
    report(site, "send_backs", item=item, quantity=3, reason="wrong grade")
    assert kept(item, Place.Kind.SCRAP) == 2
    assert kept(item, Place.Kind.RETURNED) == 3
    assert kept(item, Place.Kind.QUARANTINE) == 0


@pytest.mark.parametrize("kind", ["scraps", "send_backs"])
def test_a_blank_lot_of_what_leaves_the_store_means_what_has_none_or_is_asked_for(site, item, kind):
    stocked(item, 2)
    stocked(item, 4, lot="L1", expires=day(9))
    said = {"item": item, "bin": "Store", "reason": "bent"}
    report(site, kind, quantity=2, **said)
    assert (lying(item)["bin Store [L1]"], "bin Store" in lying(item)) == (4, False)
    with pytest.raises(LotError, match=r"Which lot of SEAL\? In Store lie L1 \(4\)\.") as asked:
        report(site, kind, quantity=1, **said)
    assert asked.value.column == "lot"
    report(site, kind, quantity=1, lot="L1", **said)
    assert lying(item)["bin Store [L1]"] == 3


def test_a_transfer_puts_stock_into_another_bin(site, item):
    stocked(item, 5)
    stocked(item, 0, "Shelf 1")
    report(site, "transfers", item=item, quantity=2, source="Store", target="Shelf 1")
    assert (lying(item)["bin Store"], lying(item)["bin Shelf 1"]) == (3, 2)


def test_a_transfer_goes_from_a_bin_to_another_that_is_known(site, item):
    stocked(item, 5)
    with pytest.raises(UnknownPlaceError, match="There is no bin 'Shelf 9'"):
        report(site, "transfers", item=item, quantity=2, source="Store", target="Shelf 9")
    with pytest.raises(LedgerError, match="Store is where it lies already"):
        report(site, "transfers", item=item, quantity=2, source="Store", target="store")
