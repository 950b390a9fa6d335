"""Orders come in whole packs and no smaller than the supplier takes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.order_quantity import order_quantity


@pytest.mark.parametrize(
    ("short", "pack", "least", "order"),
    [
        (0, 25, 0, 0),
        (-5, 25, 100, 0),
        (1, 25, 0, 25),
        (25, 25, 0, 25),
        (26, 25, 0, 50),
        (1, 25, 60, 75),
        (80, 25, 60, 100),
        (1, 10_000, 0, 10_000),
    ],
    ids=["nothing short", "more than enough", "one", "one full pack", "one more", "least order", "above it", "ticks"],
)
def test_an_order_is_the_fewest_packs_that_hold_the_shortage_and_the_least_order(short, pack, least, order):
    assert order_quantity(short=short, pack=pack, min_order=least) == order


@given(short=st.integers(1, 10**9), pack=st.integers(1, 10**6), least=st.integers(0, 10**9))
def test_one_pack_fewer_would_not_do(short, pack, least):
    order = order_quantity(short=short, pack=pack, min_order=least)

    assert order % pack == 0
    assert order >= max(short, least) > order - pack


@pytest.mark.parametrize(("pack", "least"), [(0, 0), (-1, 0), (1, -1)])
def test_a_pack_of_nothing_and_a_negative_least_order_are_refused(pack, least):
    with pytest.raises(ValueError, match="must"):
        order_quantity(short=1, pack=pack, min_order=least)
