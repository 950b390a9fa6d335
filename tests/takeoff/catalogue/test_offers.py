"""What suppliers offer is told by item, supplier, part, day and quantity; what was said stays."""

from datetime import date
from decimal import Decimal

import pytest

from takeoff.models import Offer
from tests.takeoff.sheets.books import SITE, load, told

pytestmark = pytest.mark.django_db

HEAD = ["item", "supplier", "price", "offered", "from_quantity", "valid_until", "supplier_part", "pack"]
BASE = {
    "suppliers": [["supplier"], ["A"], ["B"]],
    "items": [["item", "description", "unit"], ["LUG", "Lug", "each"]],
}


def offers(*rows):
    return {**SITE, **BASE, "offers": [HEAD, *rows]}


def kept():
    rows = Offer.objects.order_by("supplier__name", "offered", "from_quantity")
    return [(one.supplier.name, one.offered, one.from_quantity, one.price) for one in rows]


def counts(result):
    return next(table.counts for table in result.tables if table.name == "offers")


def test_offers_are_kept_beside_each_other_and_changed_by_their_key():
    rows = [["LUG", "A", 1.25, "2026-03-02"], ["LUG", "A", "1.10", "2026-03-02", 100], ["LUG", "B", 2, "2026-03-05"]]
    first = load(offers(*rows))
    assert first.loaded, told(first)
    day = date(2026, 3, 2)
    assert kept() == [("A", day, 0, 125), ("A", day, 100, 110), ("B", date(2026, 3, 5), 0, 200)]

    again = load(offers(*rows))
    assert counts(again)["unchanged"] == 3
    later = load(offers(["LUG", "A", "1.30", "2026-04-01"], ["LUG", "A", "1.20", "2026-03-02"]))
    assert (counts(later)["new"], counts(later)["changed"]) == (1, 1)
    assert [price for *_, price in kept()] == [120, 110, 130, 200]
    assert Offer.objects.first().pack == Decimal(1)


def test_an_offer_that_ends_before_its_day_is_refused():
    result = load(offers(["LUG", "A", 1, "2026-03-02", None, "2026-03-01"]))
    assert not result.loaded
    assert "expected a day on or after `offered`" in told(result)[0]
    assert load(offers(["LUG", "A", 1, "2026-03-02", None, "2026-03-02"])).loaded


def test_one_offer_twice_in_a_sheet_is_refused():
    assert not load(offers(["LUG", "A", 1, "2026-03-02"], ["LUG", "A", 2, "2026-03-02"])).loaded
