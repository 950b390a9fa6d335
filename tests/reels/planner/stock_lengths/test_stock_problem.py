"""What a problem of stock lengths cannot say."""

import pytest

from reels.planner.problem import ProblemError
from reels.planner.stock_lengths.stock_problem import StockLength, StockProblem, validate_stock

GOOD = (StockLength(100, None, 1), StockLength(50, 0, 2))


def test_the_smallest_figures_are_taken():
    validate_stock(StockProblem(GOOD, ((100, 1), (1, 0))))
    validate_stock(StockProblem((StockLength(1, 1, 1),), ((5, 0),)))


@pytest.mark.parametrize(
    ("stock", "items", "said"),
    [
        ((*GOOD, StockLength(0, None, 1)), (), "stock length must be above 0, got 0"),
        ((*GOOD, StockLength(60, None, 0)), (), "cost of stock length 60 must be above 0"),
        ((*GOOD, StockLength(60, -1, 1)), (), "stock length 60: available must not be negative"),
        ((*GOOD, StockLength(50, None, 1)), (), "a stock length occurs twice"),
        (GOOD, ((0, 1),), "item of 0: length must be above 0"),
        (GOOD, ((5, -1),), "item of 5: demand must not be negative"),
        (GOOD, ((101, 1),), "item of 101 is longer than all stock"),
        (GOOD[1:], ((5, 1),), "item of 5 is longer than all stock"),
    ],
)
def test_each_contradiction_is_named_alone(stock, items, said):
    with pytest.raises(ProblemError) as error:
        validate_stock(StockProblem(stock, items))
    assert error.value.problems == [said]
