"""Hand-outs, returns, borrows and counts."""

from decimal import Decimal

import pytest

from kits.issuing.queries import debts
from kits.models import Lot, LotDay, Posting
from kits.stock.books.errors import LedgerError, LotError, NotThereError, UnknownPlaceError
from kits.stock.places import Places
from takeoff.models import Place
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import AskFirstError
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
        "to borrow it, say from which run."
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


def test_a_borrow_that_is_given_back_to_the_lenders_box_and_used_by_the_lender_is_not_owed(site, item, run):
    lender = RunFactory(site=site, name="SOUTH")
    boxed(item, lender, 40)
    handed(item, 40, run, lender=lender)
    given_back(item, 40, run, bin="KIT SOUTH")
    handed(item, 40, lender, number=4)
    assert debts(site) == []


def test_what_comes_back_damaged_is_owed_still(site, item, run):
    lender = RunFactory(site=site, name="SOUTH")
    boxed(item, lender, 4)
    handed(item, 4, run, lender=lender)
    given_back(item, 4, run, condition="damaged")
    assert [owed.quantity for owed in debts(site)] == [4]


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


def test_a_count_that_names_no_lot_of_what_lies_there_by_lot_asks_which(site, item):
    stocked(item, 12, lot="L1")
    with pytest.raises(LotError, match=r"Which lot of SEAL\? There is L1 \(12\) in Store\.") as asked:
        stocked(item, 12)
    assert asked.value.column == "lot"
    assert lying(item)["bin Store [L1]"] == 12
    assert "bin Store" not in lying(item)


def test_a_count_without_a_lot_goes_on_where_something_without_a_lot_lies(site, item):
    stocked(item, 3)
    stocked(item, 12, lot="L1")
    stocked(item, 2, number=3)
    assert (lying(item)["bin Store"], lying(item)["bin Store [L1]"]) == (2, 12)


def test_a_count_without_a_lot_where_lots_lie_in_other_bins_is_looked_at(site, item):
    stocked(item, 12, lot="L1")
    with pytest.raises(AskFirstError) as asked:
        keep_one(site=site, kind="counts", row={"id": "c", "at": at(3), "item": item, "counted": "4", "bin": "Shelf"})
    assert asked.value.said == (
        "SEAL lies elsewhere by lot (L1 (12)); this count names none, so it is found without a lot.",
    )


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
    with pytest.raises(LotError, match=r"Which lot of SEAL\? There is L1 \(4\) in Store\.") as asked:
        report(site, kind, quantity=1, **said)
    assert asked.value.column == "lot"
    report(site, kind, quantity=1, lot="L1", **said)
    assert lying(item)["bin Store [L1]"] == 3


def test_each_thing_on_hold_lies_apart_by_why(site, item, run):
    item.refuse, item.accept = "silicone", ""
    item.save()
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=20)
    other = ItemFactory(site=site, code="TAPE")
    received(shipment, counted(item, 5, partial=True), counted(item, 2, condition="damaged", partial=True))
    received(shipment, counted(item, 3, grade="silicone", condition="damaged", partial=True))
    received(shipment, counted(item, 4, condition="wrong item", came_item=other))
    handed(item, 2, run, number=3)
    given_back(item, 1, run, number=4, condition="damaged")
    held = {place: quantity for place, quantity in lying(item).items() if place.startswith("quarantine")}
    assert held == {"quarantine Quarantine, damaged": 3, "quarantine Quarantine, refused": 3}
    assert lying(other)["quarantine Quarantine, wrong item"] == 4


def test_what_is_on_hold_leaves_it_only_by_a_release_and_a_refused_grade_never(site, item):
    item.refuse = "silicone"
    item.save()
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=20)
    received(shipment, counted(item, 6, condition="damaged", partial=True), counted(item, 4, grade="silicone"))
    with pytest.raises(UnknownPlaceError, match="What lies in Quarantine, refused is on hold: release it"):
        report(site, "transfers", item=item, quantity=4, source="Quarantine, refused", target="Store")
    with pytest.raises(UnknownPlaceError, match="A refused grade is never released"):
        report(site, "releases", item=item, quantity=4, held="Quarantine, refused", reason="looks fine")
    with pytest.raises(NotThereError, match="SEAL: 7 each asked, 6 there"):
        report(site, "releases", item=item, quantity=7, reason="looks fine")
    with pytest.raises(UnknownPlaceError, match="Nothing is on hold in Store"):
        report(site, "releases", item=item, quantity=1, held="Store", reason="looks fine")
    with pytest.raises(UnknownPlaceError, match="Quarantine holds nothing good"):
        report(site, "releases", item=item, quantity=1, bin="Quarantine", reason="looks fine")
    posting = report(site, "releases", item=item, quantity=5, bin="Shelf 9", reason="only the box was wet")
    assert moves_of(posting) == [("Quarantine, damaged", "Shelf 9", 5, "")]
    assert (posting.kind, posting.reason) == ("release", "only the box was wet")


def test_what_goes_back_is_taken_from_wherever_it_is_on_hold(site, item):
    item.refuse = "silicone"
    item.save()
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=20)
    received(shipment, counted(item, 6, condition="damaged", partial=True), counted(item, 4, grade="silicone"))
    posting = report(site, "send_backs", item=item, quantity=9, reason="not ours")
    assert sorted(moves_of(posting)) == [
        ("Quarantine, damaged", "Returned to supplier", 6, ""),
        ("Quarantine, refused", "Returned to supplier", 3, ""),
    ]
    report(site, "scraps", item=item, quantity=1, bin="Quarantine", reason="not worth the freight")
    assert kept(item, Place.Kind.QUARANTINE) == 0


def test_the_last_day_of_a_lot_is_mended_with_a_reason_and_the_last_word_rules(site, item):
    stocked(item, 5, lot="L", expires=day(9))
    mended = report(site, "lot_days", item=item, lot="L", expires=day(19), reason="read 9 for 19", number=3)
    assert Lot.objects.of(site).get(code="L").expires == day(19)
    stocked(item, 5, lot="L", expires=day(19), number=4)
    assert [(said.posting.kind, said.day) for said in LotDay.objects.of(site).order_by("pk")] == [
        ("count", day(9)),
        ("last_day", day(19)),
        ("count", day(19)),
    ]
    reverse(site=site, event_id=event_id(), posting=mended, at=at(5), reason="it was 9")
    assert Lot.objects.of(site).get(code="L").expires == day(19)  # the count of the 4th said so too


def test_a_last_day_that_is_taken_back_leaves_the_one_that_was_said_before_it(site, item):
    stocked(item, 5, lot="L", expires=day(9))
    mended = report(site, "lot_days", item=item, lot="L", expires=day(19), reason="read 9 for 19", number=3)
    reverse(site=site, event_id=event_id(), posting=mended, at=at(5), reason="it was 9")
    assert Lot.objects.of(site).get(code="L").expires == day(9)


def test_a_wrong_last_day_is_gone_with_the_receipt_that_said_it(site, item):
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=20)
    wrong = received(shipment, counted(item, 20, lot="L", expires=day(9))).posting
    reverse(site=site, event_id=event_id(), posting=wrong, at=at(3), reason="misread")
    received(shipment, counted(item, 20, lot="L", expires=day(19)), number=4)
    assert Lot.objects.of(site).get(code="L").expires == day(19)


def test_a_refused_act_says_nothing_of_last_days(site, item):
    stocked(item, 5, lot="L", expires=day(9))
    with pytest.raises(LotError, match="No lot M of SEAL has come"):
        report(site, "lot_days", item=item, lot="M", expires=day(19), reason="misread")
    assert [lot.code for lot in Lot.objects.of(site)] == ["L"]


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
