"""Counts against packing lists."""

from decimal import Decimal

import pytest

from kits.models import Receipt, ReceiptLine
from kits.stock.books.errors import LedgerError
from takeoff.models import Place
from tests.factories.kits import KitFactory, PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.makers import at, counted, day, kept, lying, moves_of, received, reverse, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory()


@pytest.fixture
def item(site):
    return ItemFactory(
        site=site,
        code="SEALANT",
        accept="butyl rubber",
        refuse="silicone",
        contents=Decimal("10.1"),
        contents_unit="fl oz",
    )


@pytest.fixture
def shipment(site):
    return ShipmentFactory(site=site, name="S1")


def papers(site):
    rows = ReceiptLine.objects.of(site).order_by("pk")
    return [(row.packing_line_id, row.counted, row.covers, row.partial) for row in rows]


def test_good_goods_go_to_the_store(item, shipment):
    line = PackingLineFactory(shipment=shipment, item=item, quantity=10)
    result = received(shipment, counted(item, 8))
    assert lying(item) == {"supplier Supplier": -8, "bin Store": 8}
    assert papers(item.site) == [(line.pk, 8, 8, False)]
    assert (result.posting.document, result.cautions) == ("S1", ())


def test_what_is_listed_for_a_runs_kit_goes_to_the_kits_box(site, item, shipment):
    PackingLineFactory(
        shipment=shipment, item=item, quantity=10, kit=KitFactory(site=site, name="K1", run=RunFactory(site=site))
    )
    received(shipment, counted(item, 10))
    assert lying(item)["kit_box K1"] == 10


def test_what_is_listed_for_a_kit_of_the_site_goes_to_the_store(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10, kit=KitFactory(site=site, name="K1"))
    received(shipment, counted(item, 10))
    assert lying(item)["bin Store"] == 10


def test_a_bin_that_is_named_is_made_and_filled(item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10, bin="Shelf 3"))
    assert lying(item)["bin Shelf 3"] == 10


def test_damaged_goods_are_counted_and_held(item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 7), counted(item, 3, condition="damaged"))
    assert (kept(item, Place.Kind.QUARANTINE), lying(item)["bin Store"], kept(item, Place.Kind.SUPPLIER)) == (3, 7, -10)


def test_of_a_wrong_item_the_listed_one_gets_nothing_and_what_came_is_held(site, item, shipment):
    line = PackingLineFactory(shipment=shipment, item=item, quantity=10)
    other = ItemFactory(site=site, code="TAPE")
    result = received(shipment, counted(item, 10, condition="wrong item", came_item=other))
    assert lying(item) == {}
    assert kept(other, Place.Kind.QUARANTINE) == 10
    assert papers(site) == [(line.pk, 10, 0, False)]
    assert result.cautions == ("TAPE came and is no accepted substitute for SEALANT: it goes on hold, never to stock.",)


def test_a_wrong_item_must_be_named(item, shipment):
    with pytest.raises(LedgerError, match="Wrong item instead of SEALANT: say which item came") as caught:
        received(shipment, counted(item, 1, condition="wrong item"))
    assert caught.value.column == "came_item"


def test_an_accepted_substitute_covers_the_listed_item_by_contents_under_a_lot_that_names_it(site, item, shipment):
    line = PackingLineFactory(shipment=shipment, item=item, quantity=10)
    large = ItemFactory(
        site=site, code="BR-28", grade="butyl rubber", contents=28, contents_unit="fl oz", unit="cartridge"
    )
    result = received(shipment, counted(item, 4, condition="wrong item", came_item=large, lot="7A", expires=day(30)))
    # 4 × 28 / 10.1 = 11.08910..., cut.
    assert lying(item)["bin Store [BR-28 7A]"] == 4
    assert lying(large) == {}
    assert papers(site) == [(line.pk, 4, Decimal("11.0891"), False)]
    assert result.cautions == ("BR-28 stands in for SEALANT: 4 cartridges came, worth 11.0891 each by contents.",)


def test_contents_in_other_units_are_compared_as_volumes(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    # 1 L is 33.8140 fl oz (1 fl oz = 29.57353 mL, NIST SP 811 Appendix B).
    litre = ItemFactory(site=site, code="BR-L", grade="butyl rubber", contents=Decimal(1), contents_unit="L")
    received(shipment, counted(item, 1, came_item=litre))
    assert lying(item)["bin Store [BR-L]"] == 1
    assert papers(site)[0][2] == Decimal("3.3479")


@pytest.mark.parametrize("condition", ["good", "not opened", "damaged"])
def test_a_refused_grade_is_held_whatever_its_condition(item, shipment, condition):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    result = received(shipment, counted(item, 10, grade="clear silicone", condition=condition))
    assert (kept(item, Place.Kind.QUARANTINE), kept(item, Place.Kind.BIN)) == (10, 0)
    assert result.cautions == (
        "clear silicone came, and silicone is refused for SEALANT: it goes on hold, never to stock.",
    )


def test_a_grade_that_nobody_judged_is_pointed_out(item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    assert received(shipment, counted(item, 10, grade="polyurethane")).cautions == (
        "Grade polyurethane is neither accepted nor refused for SEALANT: look at it.",
    )


def test_what_no_list_names_is_taken_in_and_pointed_out(site, item, shipment):
    result = received(shipment, counted(item, 2))
    assert lying(item)["bin Store"] == 2
    assert papers(site) == [(None, 2, 2, False)]
    assert result.cautions == ("The packing list of S1 does not name SEALANT.",)


def test_one_count_answers_all_lines_of_its_item(site, item, shipment):
    first = PackingLineFactory(
        shipment=shipment, item=item, quantity=4, kit=KitFactory(site=site, name="K1", run=RunFactory(site=site))
    )
    second = PackingLineFactory(shipment=shipment, item=item, quantity=6)
    received(shipment, counted(item, 9))
    assert papers(site) == [(first.pk, 4, 4, False), (second.pk, 5, 5, False)]
    assert (lying(item)["kit_box K1"], lying(item)["bin Store"]) == (4, 5)


def test_a_package_limits_the_count_to_its_lines(site, item, shipment):
    crate, box = (PackageFactory(shipment=shipment, name=name) for name in ("crate", "box"))
    PackingLineFactory(shipment=shipment, item=item, quantity=4, package=crate)
    line = PackingLineFactory(shipment=shipment, item=item, quantity=6, package=box)
    received(shipment, counted(item, 9, package=box))
    assert papers(site) == [(line.pk, 9, 9, False)]


def test_a_part_count_leaves_its_line_open_and_the_next_goes_on_from_there(site, item, shipment):
    first, second = (
        PackingLineFactory(shipment=shipment, item=item, quantity=4),
        PackingLineFactory(shipment=shipment, item=item, quantity=6, kit=KitFactory(site=site)),
    )
    received(shipment, counted(item, 3, partial=True))
    received(shipment, counted(item, 7))
    assert papers(site) == [(first.pk, 3, 3, True), (first.pk, 1, 1, False), (second.pk, 6, 6, False)]


def test_a_lot_expires_by_its_day_made_and_the_items_shelf_life(site, shipment):
    item = ItemFactory(site=site, code="GREASE", shelf_life_days=10)
    PackingLineFactory(shipment=shipment, item=item, quantity=4)
    received(shipment, counted(item, 4, lot="L", made=day(1)))
    result = received(shipment, counted(item, 1, lot="M", made=day(1), again="further"), number=12)
    assert result.cautions == ("GREASE could be used to 2026-03-11: it came expired.",)


def test_a_shelf_life_without_a_day_is_pointed_out(site, shipment):
    item = ItemFactory(site=site, code="GREASE", shelf_life_days=10)
    PackingLineFactory(shipment=shipment, item=item, quantity=4)
    result = received(shipment, counted(item, 4))
    assert result.cautions == ("GREASE has a shelf life, and no day made or last usable is given.",)


def test_the_same_delivery_sent_twice_is_posted_once(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    first = received(shipment, counted(item, 8), event="x")
    again = received(shipment, counted(item, 8), event="x")
    assert first.posting == again.posting
    assert Receipt.objects.of(site).count() == 1
    assert lying(item)["bin Store"] == 8


def test_a_reversed_delivery_counts_no_longer(site, item, shipment):
    line = PackingLineFactory(shipment=shipment, item=item, quantity=10)
    posting = received(shipment, counted(item, 8)).posting
    reverse(site=site, event_id="r", posting=posting, at=at(3), reason="miscounted")
    assert lying(item) == {}
    received(shipment, counted(item, 9), number=4)
    assert papers(site)[-1] == (line.pk, 9, 9, False)
    assert lying(item)["bin Store"] == 9


def test_what_the_crate_says_is_taken_as_listed_and_not_opened(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    posting = received(shipment, counted(item, 10, condition="not opened")).posting
    assert moves_of(posting) == [("Supplier", "Store", 10, "")]
    assert ReceiptLine.objects.of(site).get().condition == "not opened"


def test_a_lot_that_was_told_otherwise_before_is_refused(site, item, shipment):
    stocked(item, 1, lot="L", expires=day(9))
    with pytest.raises(LedgerError, match="Lot L of SEALANT was recorded before, to be used to 2026-03-09"):
        received(shipment, counted(item, 1, lot="L", expires=day(10)))
