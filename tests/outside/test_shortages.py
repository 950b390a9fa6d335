"""Order quantities, the three-way match and the days of a projection against values worked out elsewhere."""

from datetime import date

import pytest

from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, Terms, reckon
from kits.shortages.reckon.lines import ShortItem
from kits.shortages.reckon.order_quantity import order_quantity
from kits.shortages.reckon.projection import Dated, LotStock, project
from kits.shortages.reckon.working_days import LeadTime, WorkingDays


@pytest.mark.parametrize(("need", "pack", "order"), [(137, 25, 150), (150, 25, 150)], ids=["up", "exact multiple"])
def test_packs_are_rounded_up_and_an_exact_multiple_takes_no_extra_pack(need, pack, order):
    """ceil(need/pack) x pack; 137 by 25 gives 150, 150 by 25 gives 150 (common practice)."""
    assert order_quantity(short=need, pack=pack) == order


def test_ordered_listed_and_counted_match_three_ways():
    """
    Over or short = counted - listed; back-order = ordered - listed; open = ordered - counted (common practice).

    Ordered 500, listed 480, counted 470: 10 short against the packing list, 20 on back-order, 30 open in all. The 10
    that a closed list lacks are the carrier's or the supplier's, the 20 are still inbound.
    """
    line = reckon(
        ItemBooks(
            item=ShortItem(id=1, code="BOLT", pack=1),
            stages=(StageBook(1, "CB-1", "cables", planned=date(2026, 6, 1), takeoff=500, drawn=500),),
            lots=(LotStock(470),),
            packing=(PackedLine("S-1", 480, counted=470, closed=True),),
            orders=(OrderedLine("O-1", 500, shipped=480, expected=date(2026, 5, 20)),),
            counted=470,
        ),
        Terms(as_of=date(2026, 5, 4)),
    )

    assert line.causes["short_at_count"] == 10
    assert line.inbound == 20
    assert line.ordered - line.counted == 30
    assert line.gap == line.short == 10


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
