"""What to buy: totals that the lengths on sale add up to, smallest first."""

from itertools import islice

import pytest

from reels.planner.problem import TENTH_FOOT, Demand, Problem, StockReel
from reels.planner.short.buying import MOST_TOTALS, _too_fine, least_purchase, purchases


@pytest.mark.parametrize(
    ("lengths", "least", "first"),
    [
        ([5, 3], 7, [(5, 3), (3, 3, 3), (5, 5), (5, 3, 3)]),
        ([50, 150], 20, [(50,), (50, 50), (150,), (150, 50)]),
        ([50], 0, [(50,), (50, 50)]),
        ([50], 50, [(50,)]),
        ([50], 51, [(50, 50)]),
    ],
)
def test_purchases_grow_and_of_each_total_take_the_longest_reels(lengths, least, first):
    assert list(islice(purchases(lengths, least), len(first))) == first


def test_totals_too_many_to_list_are_made_of_the_longest_reel():
    assert [_too_fine([10, 7], MOST_TOTALS - 20 - less) for less in (0, 1)] == [True, False]
    assert next(purchases([2 * MOST_TOTALS, 2 * MOST_TOTALS - 1], 1)) == (2 * MOST_TOTALS,)
    assert next(purchases([2 * MOST_TOTALS, 2 * MOST_TOTALS - 1], 2 * MOST_TOTALS + 1)) == (2 * MOST_TOTALS,) * 2


def test_no_purchase_is_less_than_what_the_reels_cannot_hold():
    # 90 of the reel's 100 can be used for pieces of 30: 30 of 120 are missing.
    problem = Problem(TENTH_FOOT, (StockReel("A", 100, True),), (Demand("D", 30, 4),), keep=20)
    assert least_purchase(problem, [50, 150]) == 50
    assert least_purchase(problem, [20]) == 40
    long = Problem(TENTH_FOOT, (StockReel("A", 100, True),), (Demand("D", 120, 1),), keep=20)
    assert least_purchase(long, [50, 150]) == 150, "a piece longer than every reel needs a reel as long"
    assert least_purchase(long, [60, 150]) == 150, "two of 60 would be enough in all, and hold no piece of 120"
    held = Problem(TENTH_FOOT, (StockReel("A", 120, True),), (Demand("D", 120, 1), Demand("E", 5, 1)), keep=20)
    assert least_purchase(held, [5, 150]) == 5
