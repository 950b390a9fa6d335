"""What to order from whom: each supplier's own list."""

from dataclasses import replace

from kits.shortages.reckon.lines import TooLate
from kits.shortages.told.by_supplier import order_lists
from kits.shortages.told.rounded import rounded_line
from tests.kits.reorders.build import TODAY, cable_line, reconciliation, short_line

LATE = (TooLate("shipment", "S-1", 10_000, None, TODAY, None),)
NOBODY = {"supplier_id": None, "supplier": ""}


def test_each_supplier_gets_its_lines_by_name_and_nobody_comes_last():
    other = short_line(item={"code": "grease", "supplier_id": 3, "supplier": "Bolts first"})
    nobody = short_line(item={"code": "wipe", **NOBODY})
    mine = short_line()
    lists = order_lists(reconciliation(nobody, mine, other, cables=(cable_line(),)))
    assert [(one.supplier_id, one.supplier) for one in lists] == [
        (3, "Bolts first"), (7, "Seals and more"), (None, ""),
    ]  # fmt: skip
    assert [[line.item.code for line in one.lines] for one in lists] == [["grease"], ["sealant"], ["wipe"]]
    assert [[cable.cable for cable in one.cables] for one in lists] == [[], ["C500"], []]
    assert lists[1].lines == (rounded_line(mine),)


def test_what_is_only_late_is_to_come_sooner_and_is_not_ordered():
    line = short_line(order=0, order_by=None, expedite=10_000, too_late=LATE)
    (only,) = order_lists(reconciliation(line))
    assert (only.lines, [one.item.code for one in only.late]) == ((), ["sealant"])


def test_a_cable_that_nobody_buys_is_on_no_list():
    assert order_lists(reconciliation(cables=(replace(cable_line(), order=()),))) == ()
    assert order_lists(reconciliation(cables=(replace(cable_line(), ware=None),))) == ()
    (only,) = order_lists(reconciliation(cables=(cable_line(ware=NOBODY),)))
    assert (only.supplier_id, only.cables[0].cable) == (None, "C500")
