"""What is left of lots once open needs have drawn from them."""

from datetime import date, timedelta
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from kits.closing.sums.surplus import surplus_of
from kits.shortages.reckon.projection import LotStock

TODAY = date(2026, 5, 4)
SOON, LATER, GONE = TODAY, TODAY + timedelta(days=30), TODAY - timedelta(days=1)


def test_what_expires_first_is_drawn_first_and_what_keeps_last():
    lots = [LotStock(10), LotStock(10, LATER), LotStock(10, SOON)]
    assert surplus_of(lots, {1: 15}, as_of=TODAY).left == (10, 5, 0)


def test_a_lot_past_its_last_day_serves_nobody_and_is_left():
    found = surplus_of([LotStock(10, GONE), LotStock(3, SOON)], {1: 8}, as_of=TODAY)
    assert (found.left, found.lacking) == ((10, 0), 5)


def test_what_is_kept_spare_is_drawn_after_the_needs():
    assert surplus_of([LotStock(10)], {1: 4}, reserve=5, as_of=TODAY).left == (1,)


def test_what_is_made_for_a_run_serves_that_run_only_and_a_shared_piece_whom_no_other_serves():
    lots = [LotStock(2, fits=frozenset({1, 2})), LotStock(2, fits=frozenset({1})), LotStock(2, fits=frozenset())]
    found = surplus_of(lots, {1: 2, 2: 2}, as_of=TODAY)
    assert (found.left, found.lacking) == ((0, 0, 2), 0)


def test_a_reserve_takes_nothing_that_is_made_for_a_run():
    found = surplus_of([LotStock(2, fits=frozenset({1}))], {}, reserve=1, as_of=TODAY)
    assert (found.left, found.lacking) == ((2,), 1)


sets = st.one_of(st.none(), st.frozensets(st.integers(1, 2), max_size=2))
days = st.sampled_from([None, GONE, SOON, LATER])
stock = st.lists(st.builds(LotStock, st.integers(1, 3), days, sets), max_size=4)


@given(stock, st.integers(0, 4), st.integers(0, 4))
def test_no_other_way_to_hand_it_out_serves_more(lots, first, second):
    found = surplus_of(lots, {1: first, 2: second}, as_of=TODAY)
    assert sum(found.left) + first + second - found.lacking == sum(lot.quantity for lot in lots)
    assert all(0 <= left <= lot.quantity for left, lot in zip(found.left, lots, strict=True))

    usable = [lot for lot in lots if lot.expires is None or lot.expires >= TODAY]
    ways = product(*(range(lot.quantity + 1) for lot in usable))  # what of each lot run 1 takes; run 2 takes the rest
    best = max(
        min(first, sum(take for take, lot in zip(way, usable, strict=True) if lot.fits is None or 1 in lot.fits))
        + min(
            second,
            sum(lot.quantity - t for t, lot in zip(way, usable, strict=True) if lot.fits is None or 2 in lot.fits),
        )
        for way in ways
    )
    assert first + second - found.lacking == best
