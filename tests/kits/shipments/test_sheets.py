"""The tables `shipments` and `orders`."""

from datetime import date
from decimal import Decimal

import pytest

from kits.models import OrderLine, PackingLine, Shipment
from takeoff.models import Site, Supplier
from tests.kits.sheets import BASE, load, site_with, told

pytestmark = pytest.mark.django_db

HEADER = BASE["shipments"][0]


def lines() -> list:
    rows = PackingLine.objects.of(Site.objects.get()).select_related("shipment", "package", "item", "kit", "order")
    return [
        (line.shipment.name, line.package and line.package.name, line.item.code, line.quantity, line.per_pack)
        for line in rows.order_by("pk")
    ]


def test_packing_lists_are_made_in_pieces():
    assert told(site_with()) == []
    assert lines() == [
        ("S1", "crate 1", "LUG", 10, 1),
        ("S1", "crate 2", "LUG", 50, 25),
        ("S2", None, "SEAL", 24, 1),
    ]
    line = PackingLine.objects.of(Site.objects.get()).get(item__code="SEAL")
    assert (line.order.name, line.shipment.supplier.name) == ("O1", "Seal house")


def test_a_changed_quantity_changes_its_line_and_no_line_is_ever_removed():
    site_with()
    assert load(
        {"shipments": [HEADER, ["S1", "Bus works", "LUG", 12, "crate 1", None, "K1", None, "2026-03-01"]]}
    ).loaded
    assert [row[3] for row in lines()] == [12, 50, 24]


def test_a_changed_day_is_the_shipments():
    site_with()
    result = load({"shipments": [HEADER, ["S1", "Bus works", "LUG", 10, "crate 1", None, "K1", None, "2026-03-05"]]})
    assert Shipment.objects.of(Site.objects.get()).get(name="S1").expected == date(2026, 3, 5)
    assert [change.details for change in result.tables[0].changes] == [("expected: 2026-03-01 → 2026-03-05",)]


def test_rows_of_a_shipment_must_agree():
    rows = [
        ["S3", "Bus works", "LUG", 1, "a", None, None, None, None],
        ["S3", "Seal house", "LUG", 1, "b", None, None, None, None],
    ]
    assert told(site_with(shipments=[HEADER, *rows])) == [
        "shipments, row 3, column supplier: found Seal house, expected Bus works, as row 2 says of shipment S3"
    ]


def test_a_blank_follows_the_row_of_the_shipment_that_says_it():
    header = ["shipment", "supplier", "item", "quantity", "carrier", "shipped", "expected"]
    rows = [
        ["S3", None, "LUG", 1, "Long haul", None, None],
        ["S3", "Bus works", "SEAL", 1, None, None, "2026-03-09"],
        ["S3", None, "BR-28", 1, None, "2026-03-02", None],
    ]
    assert told(site_with(shipments=[header, *rows])) == []
    shipment = Shipment.objects.of(Site.objects.get()).select_related("supplier").get()
    assert (shipment.supplier.name, shipment.carrier) == ("Bus works", "Long haul")
    assert (shipment.shipped, shipment.expected) == (date(2026, 3, 2), date(2026, 3, 9))


def test_a_supplier_that_no_row_of_a_shipment_says_is_missing():
    header = ["shipment", "supplier", "item", "quantity"]
    rows = [["S3", None, "LUG", 1], ["S4", "Bus works", "LUG", 1]]
    assert told(site_with(shipments=[header, *rows])) == [
        "shipments, row 2, column supplier: found nothing, expected a value: Who sent it."
    ]


def test_a_bad_day_is_told_once_for_the_blanks_that_follow_it():
    header = ["shipment", "supplier", "item", "quantity", "expected"]
    rows = [["S3", "Bus works", "LUG", 1, "soon"], ["S3", None, "SEAL", 1, None]]
    (problem,) = told(site_with(shipments=[header, *rows]))
    assert problem.startswith("shipments, row 2, column expected: found soon, expected")


def test_blanks_of_an_order_follow_the_row_that_says_it():
    header = ["order", "supplier", "item", "quantity", "po", "state"]
    rows = [["O1", "Seal house", "SEAL", 24, None, None], ["O1", None, "LUG", 5, "PO-8", "confirmed"]]
    assert told(site_with(orders=[header, *rows])) == []
    lines = OrderLine.objects.of(Site.objects.get()).select_related("order")
    assert {(line.order.po, line.order.state) for line in lines} == {("PO-8", "confirmed")}


def test_an_order_that_is_sent_in_one_row_and_a_draft_in_another_is_refused():
    header = ["order", "supplier", "item", "quantity", "state"]
    rows = [["O1", "Seal house", "SEAL", 24, None], ["O1", "", "LUG", 5, "draft"], ["O1", "", "BR-28", 5, "sent"]]
    assert told(site_with(orders=[header, *rows])) == [
        "orders, row 4, column state: found sent, expected draft, as row 3 says of order O1"
    ]


def test_a_unit_that_nobody_knows_is_refused():
    row = ["S3", "Bus works", "BR-28", 1, None, "box", None, None, None]
    (problem,) = told(site_with(shipments=[HEADER, row]))
    assert problem.startswith("shipments, row 2, column unit: found box, expected per_pack, or an item that says how")


def test_pieces_that_four_decimals_cannot_hold_are_refused():
    header = ["shipment", "supplier", "item", "quantity", "per_pack"]
    (problem,) = told(site_with(shipments=[header, ["S3", "Bus works", "LUG", "0.0001", "0.5"]]))
    assert problem.startswith("shipments, row 2, column quantity: found 0.0001, expected a number whose pieces four")


def test_more_pieces_than_the_books_can_add_up_are_refused():
    header = ["shipment", "supplier", "item", "quantity", "per_pack"]
    (problem,) = told(site_with(shipments=[header, ["S3", "Bus works", "LUG", "1000000", "1001"]]))
    most = "1\u202f000\u202f000\u202f000"
    assert problem == f"shipments, row 2, column quantity: found 1000000, expected at most {most} pieces in all"


def test_the_same_line_twice_is_refused():
    row = ["S3", "Bus works", "LUG", 1, "a", None, None, None, None]
    (problem,) = told(site_with(shipments=[HEADER, row, row]))
    assert problem.startswith("shipments, row 3, column order: found S3 a LUG")


def test_an_order_is_sent_unless_the_sheet_says_otherwise():
    site_with()
    line = OrderLine.objects.of(Site.objects.get()).select_related("order").get()
    assert (line.quantity, line.expected) == (Decimal(24), date(2026, 3, 20))
    assert (line.order.state, line.order.po) == ("sent", "PO-7")


def test_an_order_moves_on():
    site_with()
    header = ["order", "supplier", "item", "quantity", "state"]
    result = load({"orders": [header, ["O1", "Seal house", "SEAL", 24, "Part received"]]})
    assert result.loaded
    line = OrderLine.objects.of(Site.objects.get()).select_related("order").get()
    # What the sheet has no column for stays.
    assert (line.expected, line.order.state, line.order.po) == (date(2026, 3, 20), "part received", "PO-7")
    assert [change.details for change in result.tables[0].changes] == [("state: sent → part received",)]


def test_a_sent_order_was_sent_on_the_day_it_was_loaded_where_nobody_says():
    header = ["order", "supplier", "item", "quantity", "state"]

    def sent_on(*cells, more=()):
        assert load({"orders": [[*header, *more], ["O9", "Seal house", "LUG", 5, *cells]]}).loaded
        return OrderLine.objects.of(Site.objects.get()).get(order__name="O9").sent

    site_with()
    assert sent_on("draft") is None
    assert sent_on("sent") == Site.objects.get().today()
    assert sent_on("sent", "2026-03-04", more=["sent"]) == date(2026, 3, 4)
    assert sent_on("confirmed") == sent_on("confirmed", None, more=["sent"]) == date(2026, 3, 4)


def test_one_order_holds_an_item_for_any_run_and_for_each_run_that_it_is_made_for():
    header = ["order", "supplier", "item", "quantity", "run", "size", "kind"]
    rows = [
        ["O9", "Seal house", "LUG", 5, None, None, None],
        ["O9", None, "LUG", 2, "NORTH", "18 × 18 in", "no charge"],
        ["O1", "Seal house", "SEAL", 24, None, None, None],  # the base ships against it
    ]
    assert told(site_with(orders=[header, *rows])) == []
    lines = OrderLine.objects.of(Site.objects.get()).filter(order__name="O9").order_by("quantity")
    assert [(line.quantity, line.run and line.run.name, line.size, line.kind) for line in lines] == [
        (2, "NORTH", "18 × 18 in", "no charge"),
        (5, None, "", "charge"),
    ]


def test_holidays_and_lead_times_are_read_and_an_empty_lead_time_is_not_known():
    header = ["supplier", "lead_time_days", "lead_time_in"]
    suppliers = [header, ["Bus works", 10, "working days"], ["Seal house", None, None]]
    site = [["name", "holidays"], ["North", "2026-12-25, 2026-12-24, 2026-12-25"]]
    assert told(site_with(suppliers=suppliers, site=site)) == []
    found = Supplier.objects.of(Site.objects.get()).order_by("name").values_list("lead_time_days", "lead_time_in")
    assert list(found) == [(10, "working days"), (None, "days")]
    assert Site.objects.get().holidays == ["2026-12-24", "2026-12-25"]
