"""Days are walked in order: deliveries, then needs, first expired first."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.lines import Delivery
from kits.shortages.reckon.projection import Dated, LotStock, all_here, expedite, project, too_late, usable
from tests.kits.shortages.reckon.strategies import AS_OF, lots, maybe_days, quantities


def day(number):
    return AS_OF + timedelta(days=number)


dated = st.lists(st.builds(Dated, quantity=quantities, on=maybe_days), max_size=6)


def test_what_is_here_serves_needs_until_it_runs_out_on_a_day():
    walk = project(AS_OF, [LotStock(10)], [], [Dated(6, day(5)), Dated(6, day(9)), Dated(6, day(12))])

    assert (walk.short, walk.short_on) == (8, day(9))
    assert [(step.day, step.balance) for step in walk.steps] == [
        (AS_OF, 10),
        (day(5), 4),
        (day(9), -2),
        (day(12), -8),
    ]


def test_a_delivery_serves_its_own_day():
    assert project(AS_OF, [], [Dated(5, day(3))], [Dated(5, day(3))]).short == 0


def test_a_delivery_one_day_late_leaves_a_shortage_that_it_fills_afterwards():
    walk = project(AS_OF, [], [Dated(5, day(4))], [Dated(5, day(3))])

    assert (walk.short, walk.short_on, walk.steps[-1].balance) == (5, day(3), 0)


def test_an_overdue_delivery_counts_today_and_an_undated_one_never():
    needs = [Dated(5, day(1))]

    assert project(AS_OF, [], [Dated(5, day(-9))], needs).short == 0
    assert project(AS_OF, [], [Dated(5, None)], needs).short == 5


def test_overdue_and_undated_needs_count_today():
    assert project(AS_OF, [], [], [Dated(5, day(-3)), Dated(2, None)]).short_on == AS_OF


def test_a_lot_can_be_used_on_its_last_day_and_not_after():
    lot = [LotStock(5, expires=day(3))]

    assert project(AS_OF, lot, [], [Dated(5, day(3))]).short == 0
    assert project(AS_OF, lot, [], [Dated(5, day(4))]).short == 5


def test_the_lot_that_expires_first_is_used_first():
    stock = [LotStock(5), LotStock(5, expires=day(3))]
    walk = project(AS_OF, stock, [], [Dated(5, day(2)), Dated(5, day(6))])

    assert walk.short == 0
    assert all(step.expired == 0 for step in walk.steps)


def test_what_is_left_of_a_lot_drops_out_the_day_after_its_last():
    walk = project(AS_OF, [LotStock(5, expires=day(3))], [], [Dated(2, day(1)), Dated(3, day(9))])

    assert [(step.day, step.expired, step.balance) for step in walk.steps][2:] == [(day(4), 3, 0), (day(9), 0, -3)]


def test_expired_stock_is_not_usable():
    stock = [LotStock(1, expires=day(-1)), LotStock(2, expires=AS_OF), LotStock(4)]

    assert usable(stock, AS_OF) == 6


def test_the_last_day_of_the_calendar_is_a_day_like_any_other():
    assert project(AS_OF, [LotStock(5, expires=date.max)], [], [Dated(6, None)]).short == 1


@given(lots=lots, deliveries=dated, needs=dated)
def test_steps_add_up_and_short_is_the_deepest_of_them(lots, deliveries, needs):
    walk = project(AS_OF, lots, deliveries, needs)

    before = usable(lots, AS_OF)
    for step in walk.steps:
        assert step.balance == before + step.delivered - step.needed - step.expired
        before = step.balance
    assert walk.short == max(0, -min(step.balance for step in walk.steps))
    below = [step.day for step in walk.steps if step.balance < 0]
    assert walk.short_on == (min(below) if below else None)
    assert sum(step.needed for step in walk.steps) == sum(need.quantity for need in needs)


@given(lots=lots, deliveries=dated, needs=dated)
def test_a_shortage_delivered_today_leaves_none(lots, deliveries, needs):
    short = project(AS_OF, lots, deliveries, needs).short

    assert project(AS_OF, lots, [*deliveries, Dated(short, AS_OF)], needs).short == 0
    if short:
        assert project(AS_OF, lots, [*deliveries, Dated(short - 1, AS_OF)], needs).short == 1


@given(lots=lots, deliveries=dated, needs=dated)
def test_more_stock_that_keeps_never_makes_a_shortage_larger(lots, deliveries, needs):
    more = project(AS_OF, [*lots, LotStock(10_000)], deliveries, needs)

    assert more.short <= project(AS_OF, lots, deliveries, needs).short


def walks(needs, deliveries, lots=()):
    coming = [Dated(one.quantity, one.on) for one in deliveries]
    return project(AS_OF, lots, coming, needs), all_here(AS_OF, lots, coming, needs)


def late(needs, deliveries, lots=()):
    """The deliveries to expedite: name, the day since when it is missing, and how late."""
    return [(one.name, one.since, one.days) for one in too_late(*walks(needs, deliveries, lots), deliveries)]


def test_ten_needed_and_four_that_come_too_late_are_six_to_order_and_four_to_expedite():
    """Design example: need 10 on 5 Dec, 4 arrive 20 Dec: short 10, order 6, expedite 4."""
    as_of = date(2026, 12, 1)
    needs, coming = [Dated(10, date(2026, 12, 5))], [Dated(4, date(2026, 12, 20))]
    stands, here = project(as_of, [], coming, needs), all_here(as_of, [], coming, needs)

    assert (stands.short, here.short, expedite(stands, here)) == (10, 6, 4)
    assert (stands.short_on, here.short_on) == (date(2026, 12, 5), date(2026, 12, 5))


def test_a_late_delivery_is_told_from_the_day_that_waits_for_it():
    first, second = Delivery("shipment", "S-1", 5, day(8)), Delivery("shipment", "S-2", 5, day(31))
    beyond = Delivery("order", "O-1", 9, day(50))

    assert late([Dated(5, day(3)), Dated(5, day(30))], [first, second, beyond]) == [
        ("S-1", day(3), 5),
        ("S-2", day(30), 1),
    ]


def test_a_delivery_without_a_day_covers_at_last():
    assert late([Dated(5, day(3))], [Delivery("order", "O-1", 5, None)]) == [("O-1", day(3), None)]


def test_what_comes_too_late_is_expedited_and_the_rest_is_ordered():
    needs, deliveries = [Dated(6, day(3))], [Delivery("shipment", "S-1", 5, day(8))]

    assert late(needs, deliveries) == [("S-1", day(3), 5)]
    assert expedite(*walks(needs, deliveries)) == 5
    assert late([], deliveries) == []


def test_what_expires_before_its_use_no_delivery_brings_back():
    needs, deliveries, lot = [Dated(5, day(9))], [Delivery("order", "O-1", 4, day(12))], [LotStock(5, day(2))]

    stands, here = walks(needs, deliveries, lot)
    assert (stands.short, here.short, expedite(stands, here)) == (5, 1, 4)


coming = st.builds(Delivery, st.just("order"), st.just("O-1"), quantity=st.integers(1, 10**6), on=maybe_days)


@given(lots=lots, needs=dated, deliveries=st.lists(coming, max_size=4))
def test_a_delivery_is_named_exactly_when_something_is_to_be_expedited(lots, needs, deliveries):
    stands, here = walks(needs, deliveries, lots)

    found = too_late(stands, here, deliveries)

    assert bool(found) == (expedite(stands, here) > 0)
    assert max(here.short, expedite(stands, here)) <= stands.short <= here.short + expedite(stands, here)
    assert all(one.days is None or one.days > 0 for one in found)
