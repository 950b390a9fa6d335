"""The offer to take: least cost for what is needed, in time; ties by lead time."""

from datetime import date, timedelta
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from kits.offers.choice.best_offer import Quote, standing, ways_to_buy

DAY = date(2026, 5, 4)


def quote(key, supplier="S", *, price=100, start=0, pack=1, least=0, comes=None, part="", offered=DAY, until=None):
    return Quote(
        key, supplier, part, offered, price, start * 10_000, pack * 10_000, least * 10_000,
        None if comes is None else DAY + timedelta(days=comes), until,
    )  # fmt: skip


def taken(quotes, need, by=None):
    limit = None if by is None else DAY + timedelta(days=by)
    return [
        (way.quote.key, way.quantity // 10_000, way.cost, way.in_time) for way in ways_to_buy(quotes, need, by=limit)
    ]


def test_two_offers_enumerated_by_hand():
    # 95 wanted. A: 1.00 each, 0.80 from 100 on, in packs of 10. B: 0.90 each, in packs of 25, no fewer than 50.
    # A at 1.00: 100 for 100.00. A at 0.80: 100 for 80.00. B: 100 for 90.00.
    offers = [quote(1, "A", price=100, pack=10), quote(2, "A", price=80, start=100, pack=10)]
    offers.append(quote(3, "B", price=90, pack=25, least=50))
    assert taken(offers, 950_000) == [(2, 100, 8000, True), (3, 100, 9000, True), (1, 100, 10_000, True)]
    # 60 wanted. A at 1.00: 60 for 60.00. A at 0.80: 100 for 80.00. B: 75 for 67.50.
    assert [key for key, *_ in taken(offers, 600_000)] == [1, 3, 2]
    # 10 wanted. A: 10 for 10.00. B: no fewer than 50, for 45.00.
    assert taken(offers, 100_000)[:2] == [(1, 10, 1000, True), (3, 50, 4500, True)]


def test_what_comes_too_late_or_nobody_knows_when_stands_behind_whatever_it_costs():
    offers = [quote(1, price=1), quote(2, price=2, comes=9), quote(3, price=50, comes=8), quote(4, price=60, comes=7)]
    assert [(key, in_time) for key, _, _, in_time in taken(offers, 10_000, by=8)] == [
        (3, True), (4, True), (2, False), (1, False),
    ]  # fmt: skip


def test_where_none_comes_in_time_the_first_to_come_stands_first():
    offers = [quote(1, price=1, comes=20), quote(2, price=9, comes=10)]
    assert [key for key, *_ in taken(offers, 10_000, by=3)] == [2, 1]


def test_without_a_day_each_is_in_time_and_a_tie_comes_by_lead_time():
    offers = [quote(1, "A"), quote(2, "B", comes=9), quote(3, "C", comes=3)]
    assert [(key, in_time) for key, _, _, in_time in taken(offers, 10_000)] == [(3, True), (2, True), (1, True)]


def test_a_cost_is_exact_and_shown_to_the_nearest_minor_unit():
    (way,) = ways_to_buy([Quote(1, "S", "", DAY, 333, pack=5_000)], 5_000, by=None)
    assert (way.quantity, way.cost, way.minor) == (5_000, Fraction(333, 2), 166)


def test_a_later_offer_of_a_part_replaces_all_prices_of_the_earlier_one():
    old = [quote(1, offered=DAY), quote(2, start=100, offered=DAY)]
    new = quote(3, offered=DAY + timedelta(days=5))
    other = quote(4, part="X", offered=DAY)
    every = [*old, new, other]
    assert [one.key for one in standing(every, DAY + timedelta(days=4))] == [1, 2, 4]
    assert [one.key for one in standing(every, DAY + timedelta(days=5))] == [3, 4]


def test_an_offer_holds_through_its_last_day_and_what_it_replaced_does_not_come_back():
    old, new = quote(1), quote(2, offered=DAY + timedelta(days=2), until=DAY + timedelta(days=3))
    assert [one.key for one in standing([old, new], DAY + timedelta(days=3))] == [2]
    assert standing([old, new], DAY + timedelta(days=4)) == ()


tiers = st.dictionaries(st.integers(0, 6), st.integers(1, 20), min_size=1, max_size=3)
suppliers = st.tuples(tiers, st.integers(1, 4), st.integers(0, 8), st.one_of(st.none(), st.integers(0, 5)))


@given(st.lists(suppliers, min_size=1, max_size=3), st.integers(1, 9), st.one_of(st.none(), st.integers(0, 5)))
def test_no_quantity_of_any_supplier_costs_less(offered, need, by):
    quotes, cheapest = [], []
    for number, (prices, pack, least, comes) in enumerate(offered):
        quotes += [
            quote(len(quotes) + n, f"S{number}", price=price, start=start, pack=pack, least=least, comes=comes)
            for n, (start, price) in enumerate(prices.items())
        ]
        if by is not None and (comes is None or comes > by):
            continue
        # Of every quantity in whole packs, at the least of all prices whose quantity is reached.
        cheapest += [
            quantity * min(price for start, price in prices.items() if start <= quantity)
            for quantity in range(max(need, least, min(prices)), 40)
            if quantity % pack == 0
        ]
    first = ways_to_buy(quotes, need * 10_000, by=None if by is None else DAY + timedelta(days=by))[0]
    assert first.in_time is bool(cheapest)
    if cheapest:
        assert first.cost == min(cheapest)
    assert first.quantity >= need * 10_000
