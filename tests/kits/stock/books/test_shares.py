"""Shares of a whole always add up to it."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from kits.stock.books.shares import shared

WEIGHTS = st.lists(st.integers(0, 10**7), min_size=1, max_size=8).filter(any)


@given(quantity=st.integers(0, 10**9), weights=WEIGHTS)
def test_shares_add_up_and_each_is_less_than_a_tick_from_its_part(quantity, weights):
    shares = shared(quantity, weights)
    assert sum(shares) == quantity
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - Fraction(quantity * weight, sum(weights))) < 1
        assert weight or not share


@given(weights=WEIGHTS, data=st.data())
def test_no_share_of_what_all_have_is_more_than_one_has(weights, data):
    quantity = data.draw(st.integers(0, sum(weights)))
    assert all(share <= weight for share, weight in zip(shared(quantity, weights), weights, strict=True))


def test_the_largest_remainder_gets_the_last_tick_the_first_among_equals():
    assert shared(2, [1, 1, 1]) == [1, 1, 0]
    assert shared(1, [1, 3]) == [0, 1]
