"""What a reconciliation is made of: the little that its parts work out themselves."""

from datetime import date
from fractions import Fraction

from kits.shortages.reckon.lines import (
    CableLine,
    CableWare,
    Delivery,
    Evidence,
    Reconciliation,
    ReelsOnOrder,
    ShortItem,
    StageReadiness,
)


def test_a_delivery_has_a_day_that_somebody_said_unless_it_says_otherwise():
    said = Delivery("order", "PO-1", 10_000, date(2026, 5, 4))
    assert (said.late, said.provisional, said.no_answer, said.sent, said.packages) == (False, False, False, None, ())


def test_a_reel_costs_its_length_to_the_nearest_minor_unit():
    ware = CableWare(1, cost_of_a_tick=Fraction(1, 3))
    assert [ware.price(length) for length in (0, 4, 5)] == [0, 1, 2]
    assert CableWare(1).price(5) is None


def test_an_order_of_cable_costs_all_of_its_reels():
    line = CableLine("C", 9, 0, 9, 0, (), "", ware=CableWare(1, cost_of_a_tick=Fraction(2)), order=((10, 2), (5, 1)))
    assert line.cost == 2 * (10 * 2 + 5)
    assert CableLine("C", 9, 0, 9, 0, (), "", order=((10, 2),)).cost is None
    assert CableLine("C", 9, 0, 9, 0, (), "", ware=CableWare(1), order=((10, 2),)).cost is None


def test_nothing_is_said_where_nobody_said_it():
    line = CableLine("C", 9, 0, 9, 0, (), "")
    assert (line.buy, line.scrap, line.remnants, line.bound, line.gap, line.proven) == (None,) * 5 + (False,)
    assert (line.order, line.on_order, line.order_by) == (None, (), None)
    assert Evidence("R", "s", 1, 1).far_off is False
    assert StageReadiness(1, "R", "s", None, "ready").missing == ()
    assert (ShortItem(1, "X").min_order, CableWare(1).least) == (0, 0)
    assert ReelsOnOrder("PO", 1, 1).on is None
    assert Reconciliation("s", date(2026, 5, 4)).lines == ()
