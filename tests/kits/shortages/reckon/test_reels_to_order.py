"""Which reels are still to be ordered; worked by hand, in feet."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.lines import CableWare, ReelsOnOrder
from kits.shortages.reckon.reels_to_order import still_to_come, still_to_order, to_order


def on_order(*reels, order="PO-1"):
    return [ReelsOnOrder(order, length, count) for length, count in reels]


@pytest.mark.parametrize(
    ("buy", "ordered", "left"),
    [
        ([(1000, 2)], [], ((1000, 2),)),
        ([(1000, 2)], [(1000, 1)], ((1000, 1),)),
        ([(1000, 2)], [(1000, 5)], ()),
        # The worked example of docs/reconcile.md.
        ([(1000, 2), (500, 3)], [(1000, 1), (1600, 1)], ((500, 2),)),
        # A shorter reel cannot give what a longer one was to give.
        ([(1000, 1)], [(500, 2)], ((1000, 1),)),
        # Equal lengths first: otherwise the 1000 would go to the 500 and one of 1000 be bought twice.
        ([(1000, 1), (500, 1)], [(1000, 1), (500, 1)], ()),
        ([(500, 2)], [(1000, 1)], ()),
        ([(500, 2)], [(999, 1)], ((500, 1),)),
        # The longest on order gives first: after it, 300 still finds its 400.
        ([(700, 1), (300, 1)], [(400, 1), (900, 1)], ()),
        # 2900 gives 1800 and 1100, 2200 gives 1500 and 700; were 2200 first, it would give 1800, and 700 be bought.
        ([(1800, 1), (1500, 1), (1100, 1), (700, 1)], [(2200, 1), (2900, 1)], ()),
    ],
)
def test_what_is_on_order_comes_off_reel_by_reel(buy, ordered, left):
    assert still_to_order(buy, on_order(*ordered)) == left


reels = st.lists(st.tuples(st.sampled_from([250, 500, 750, 1000]), st.integers(1, 3)), max_size=4)


@given(reels, reels)
def test_no_more_feet_come_off_than_are_on_order_and_no_reel_is_added(buy, ordered):
    def feet(those):
        return sum(length * count for length, count in those)

    left = still_to_order(buy, on_order(*ordered))
    assert feet(buy) - feet(ordered) <= feet(left) <= feet(buy)
    assert still_to_order(left, []) == left
    for length, count in left:
        assert count <= sum(each for other, each in buy if other == length)


@pytest.mark.parametrize(
    ("arrived", "left"),
    [
        ([], [(1000, 2), (500, 1)]),
        # 1012 ft came for 1000, 487 ft for 500.
        ([1012, 487], [(1000, 1)]),
        ([750], [(1000, 1), (500, 1)]),
        # More than was ordered closes no more than there is.
        ([1000, 1000, 1000, 1000], []),
        ([1000, 990, 1000], []),
    ],
)
def test_a_reel_closes_one_of_the_length_nearest_to_its_own(arrived, left):
    found = still_to_come([ReelsOnOrder("PO-1", 1000, 2, date(2026, 5, 1)), ReelsOnOrder("PO-1", 500, 1)], arrived)
    assert [(line.length, line.count) for line in found] == left


@pytest.mark.parametrize(
    ("reels", "least", "sold", "order"),
    [
        (((1000, 1),), 0, (500, 1000), ((1000, 1),)),
        (((1000, 1),), 1000, (500, 1000), ((1000, 1),)),
        (((1000, 1),), 1001, (500, 1000), ((1000, 1), (500, 1))),
        (((500, 1),), 1500, (500, 1000), ((500, 3),)),
        ((), 1500, (500, 1000), ()),
        (((500, 1),), 1500, (), ((500, 1),)),
    ],
)
def test_an_order_is_brought_up_to_the_least_that_is_taken(reels, least, sold, order):
    assert to_order(reels, CableWare(1, sold=sold, least=least)) == order


def test_reels_of_a_cable_that_nobody_knows_how_to_buy_are_ordered_as_they_are():
    assert to_order(((500, 1),), None) == ((500, 1),)
