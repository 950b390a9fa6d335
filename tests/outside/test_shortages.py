"""Order quantities, the three-way match and the days of a projection against values worked out elsewhere."""

from datetime import date

import pytest

from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, Terms, reckon
from kits.shortages.reckon.lines import ShortItem
from kits.shortages.reckon.order_quantity import order_quantity
from kits.shortages.reckon.projection import Dated, LotStock, project
from kits.shortages.reckon.working_days import LeadTime, WorkingDays
from tests.outside.values import value, values


@pytest.mark.parametrize("outside", values("TORQ-15", "TORQ-16"), ids=["up", "exact multiple"])
def test_packs_are_rounded_up_and_an_exact_multiple_takes_no_extra_pack(outside):
    assert order_quantity(short=int(outside["need"]), pack=int(outside["pack"])) == outside.figure


def test_ordered_listed_and_counted_match_three_ways():
    """What a closed list lacks is the carrier's or the supplier's, what is on back-order is still inbound."""
    outside = value("RECV-07")
    ordered, listed, counted = (int(outside[name]) for name in ("ordered", "on_packing_list", "counted"))
    short, back_order, still_open = (int(word) for word in outside.expected.split())
    line = reckon(
        ItemBooks(
            item=ShortItem(id=1, code="BOLT", pack=1),
            stages=(StageBook(1, "CB-1", "cables", planned=date(2026, 6, 1), takeoff=ordered, drawn=ordered),),
            lots=(LotStock(counted),),
            packing=(PackedLine("S-1", listed, counted=counted, closed=True),),
            orders=(OrderedLine("O-1", ordered, shipped=listed, expected=date(2026, 5, 20)),),
            counted=counted,
        ),
        Terms(as_of=date(2026, 5, 4)),
    )

    assert line.causes["short_at_count"] == short
    assert line.inbound == back_order
    assert line.ordered - line.counted == still_open
    assert line.gap == line.short == short


def test_a_constant_demand_runs_out_when_the_reorder_point_says():
    """
    Reorder point = demand a day x lead time, without safety stock (inventory textbooks): at 5 a day and 3 days of lead
    time the point is 15. With 15 left tonight the order goes out in the morning, with 20 a day later.
    """
    today = date(2026, 5, 4)
    needs = [Dated(5, date(2026, 5, day)) for day in range(5, 20)]

    for on_hand, last_day in ((15, date(2026, 5, 5)), (20, date(2026, 5, 6))):
        walk = project(today, [LotStock(on_hand)], [], needs)
        assert WorkingDays().before(walk.short_on, LeadTime(3)) == last_day
