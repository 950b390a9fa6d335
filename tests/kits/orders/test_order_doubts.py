"""What a sheet may not say of orders in passing."""

import pytest

from kits.models import OrderLine
from kits.orders.order_doubts import divisible
from tests.kits.sheets import BASE, load, site_with, told

pytestmark = pytest.mark.django_db

ORDERS = ["order", "supplier", "item", "quantity", "state"]


def asked(*rows, **options) -> list[str]:
    result = load({"orders": [ORDERS, *rows]}, **options)
    assert told(result) == []
    return [str(caution) for caution in result.asked]


@pytest.fixture(autouse=True)
def site():
    items = [[*row, "Seal house" if row[0] == "SEAL" else None] for row in BASE["items"]]
    items[0][-1] = "supplier"
    site_with(items=items)


def test_the_base_is_not_asked_about():
    assert [str(caution) for caution in load(BASE).asked] == []


@pytest.mark.parametrize(
    ("row", "text"),
    [
        (
            ["O9", "Seal house", "SEAL", 30, "sent"],
            "quantity: 30 - SEAL comes in packs of 12: this is no whole number of them",
        ),
        (
            ["O9", "Bus works", "SEAL", 24, "sent"],
            "supplier: Bus works - SEAL is bought from Seal house: is another supplier meant?",
        ),
        (["O9", "Bus works", "BR-28", 2.5, "sent"], "quantity: 2.5 - BR-28 is counted in whole tubes"),
    ],
    ids=["off the pack", "another supplier", "half a tube"],
)
def test_what_nobody_sells_so_is_asked_about(row, text):
    assert f"orders, row 2, column {text}" in asked(row)


def test_half_a_lug_in_a_kit_or_on_a_packing_list_is_asked_about():
    kits = load({"kits": [["kit", "item", "quantity"], ["K9", "LUG", 2.5]]})
    assert [str(one) for one in kits.asked] == ["kits, row 2, column quantity: 2.5 - LUG is counted in whole pieces"]
    shipments = load({"shipments": [["shipment", "supplier", "item", "quantity"], ["S9", "Bus works", "LUG", 0.5]]})
    assert [one.column for one in shipments.asked] == ["quantity"]


def test_only_measures_come_in_parts():
    assert [unit for unit in ("ft", "kg", "mL", "each", "roll", "cartridge") if divisible(unit)] == ["ft", "kg", "mL"]


def test_a_sheet_that_contradicts_an_order_that_was_sent_is_asked_about_and_not_kept():
    row = ["O1", "Seal house", "SEAL", 12, "sent"]
    assert asked(row, confirmed=False) == [
        "orders, row 2, column quantity: 12 - was 24, and O1 was sent: does the supplier know?"
    ]
    assert OrderLine.objects.get().quantity == 24


def test_a_sent_order_that_is_a_draft_again_is_asked_about():
    assert asked(["O1", "Seal house", "SEAL", 24, "draft"]) == [
        "orders, row 2, column state: draft - was sent, and O1 was sent: does the supplier know?"
    ]


def test_a_load_names_the_orders_whose_need_it_moves():
    rules = [
        ["rule", "item", "stage", "counted_on", "measure", "amount", "source"],
        ["sealant", "SEAL", "seals", "run", "each", 3, "common practice"],
    ]
    load({"rules": rules})
    rules[1][5] = 5
    # Two runs, each 2 more.
    (told_of,) = load({"rules": rules}).effects.touched
    assert told_of == "Order O1, sent: 24 of SEAL, of which runs need 4 more than before."
