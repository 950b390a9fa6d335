"""Orders as sheets tell of them: items, and reels of a cable."""

from decimal import Decimal

import pytest

from kits.models import OrderLine
from kits.shortages.queries import reconcile
from takeoff.models import Cable, Site
from tests.kits.sheets import load, site_with, told

pytestmark = pytest.mark.django_db
HEADER = ["order", "supplier", "item", "cable", "reel_length", "quantity", "expected"]
FT = Decimal("304.8")
SEALANT = ["O1", "Seal house", "SEAL", None, None, 24, None]


def lines():
    rows = OrderLine.objects.of(Site.objects.get())
    return set(rows.values_list("order__name", "item__code", "cable__code", "reel_length", "quantity"))


def test_an_order_takes_reels_of_a_cable_beside_items():
    rows = [
        ["O2", "Bus works", None, "C500", "1000 ft", 2, "2026-05-01"],
        ["O2", None, None, "C500", "500 ft", 1, None],
        ["O2", None, "LUG", None, None, 25, None],
    ]
    assert told(site_with(orders=[HEADER, SEALANT, *rows])) == []
    assert lines() == {
        ("O1", "SEAL", None, None, 24),
        ("O2", None, "C500", 500 * FT, 1),
        ("O2", None, "C500", 1000 * FT, 2),
        ("O2", "LUG", None, None, 25),
    }
    again = load({"orders": [HEADER, *rows]})
    assert (again.loaded, again.tables[0].counts["unchanged"]) == (True, 3)
    changed = load({"orders": [HEADER, ["O2", "Bus works", None, "C500", "1000 ft", 3, None]]})
    assert [(change.key, change.details) for change in changed.tables[0].changes] == [
        ("O2 C500 1000 ft", ("quantity: 2 → 3", "expected: 2026-05-01 → none"))
    ]


def test_items_are_reckoned_as_if_no_cable_were_ordered():
    rows = [["O2", "Bus works", None, "C500", "1000 ft", 2, None]]
    site_with(orders=[HEADER, SEALANT, *rows])
    assert [line.ordered for line in reconcile(Site.objects.get()).lines] == [0, 0, 240_000]


@pytest.mark.parametrize(
    ("item", "cable", "length", "quantity", "said"),
    [
        ("LUG", "C500", "500 ft", 1, "column cable: found C500, expected an item or a cable in a row, not both"),
        (None, None, None, 1, "column item: found nothing, expected an item or a cable"),
        ("LUG", None, "500 ft", 1, "column reel_length: found 500 ft, expected no length of a reel for an item"),
        (None, "C500", None, 1, "column reel_length: found nothing, expected the length of each reel of the cable"),
        (None, "C500", "500 ft", "1.5", "column quantity: found 1.5, expected a whole number of reels"),
        (None, "C600", "500 ft", 1, "column cable: found C600, expected"),
    ],
)
def test_a_row_orders_an_item_or_whole_reels_of_one_length(item, cable, length, quantity, said):
    (problem,) = told(site_with(orders=[HEADER, SEALANT, ["O2", "Bus works", item, cable, length, quantity, None]]))
    assert problem.startswith(f"orders, row 3, {said}")


def test_a_cable_is_bought_like_anything_else():
    header = ["item", "size", "material", "supplier", "supplier_part", "lead_time_days", "unit_cost", "min_order"]
    row = ["C500", 500, "Cu", "Bus works", "W-500", 42, "12.5", "1500 ft"]
    assert told(site_with(cables=[header, row])) == []
    cable = Cable.objects.get()
    assert (cable.supplier.name, cable.supplier_part, cable.unit_cost) == ("Bus works", "W-500", 1250)
    assert (cable.lead_days, cable.min_order) == (42, 1500 * FT)
    # What a sheet has no column for stays; what it leaves empty goes back to what was.
    load({"cables": [["item", "size", "material", "lead_time_days"], ["C500", 500, "Cu", None]]})
    cable = Cable.objects.select_related("supplier").get()
    assert (cable.supplier_part, cable.lead_days) == ("W-500", cable.supplier.lead_time_days)
    cable.supplier = None
    assert cable.lead_days is None, "nobody said"
