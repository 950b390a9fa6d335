"""Cut planning against published problems, whose data and optima stand in `values.csv` with their sources."""

import pytest

from reels.planner.problem import TENTH_FOOT, Demand, Limits, Problem, StockReel
from reels.planner.solve import plan_cuts
from reels.planner.stock_lengths.stock_problem import StockLength, StockProblem
from reels.planner.stock_lengths.stock_search import Search, plan_stock
from tests.outside.values import value, values


def problem_of(outside):
    """A cutting-stock problem: widths w with demands d from stock W; a bin-packing one: items for bins of C."""
    if "W" in outside.words:
        stock, demands = int(outside["W"]), zip(outside.several("w"), outside.several("d"), strict=True)
    else:
        stock, demands = int(outside["C"]), ((item, 1) for item in outside.several("items"))
    return StockProblem((StockLength(stock, None, 1),), tuple(demands), Limits(seconds=60.0))


@pytest.mark.parametrize("outside", values("CUTS-01", "CUTS-06"), ids=lambda outside: outside.id)
def test_a_published_problem_is_solved_and_proven(outside):
    plan = plan_stock(problem_of(outside))

    assert (plan.cost, plan.bound, plan.stopped) == (outside.figure, outside.figure, "proven")


@pytest.mark.parametrize("outside", values("CUTS-07", "CUTS-08"), ids=["smaller stock", "one unit longer"])
def test_first_fit_decreasing_can_do_worse_on_longer_stock(outside):
    problem = problem_of(outside)
    search = Search(problem, None)

    assert len(search.first_fit(search.counts.copy(), search.stock.available.copy())) == outside.figure
    assert plan_stock(problem).cost == 3


def test_each_cut_takes_its_allowance():
    outside = value("CUTS-09")
    cuts, rest = (int(word) for word in outside.expected.split())
    each = int(outside["cut_ft"] + outside["allowance_ft"])
    reel = StockReel("R", int(outside["reel_ft"]), True)

    plan = plan_cuts(Problem(TENTH_FOOT, (reel,), (Demand("D", each, cuts + 1),), keep=each))

    assert [(load.cuts[0].pieces, load.end) for load in plan.loads] == [(cuts, rest)]
    assert [(left.demand, left.pieces) for left in plan.unmet] == [("D", 1)]
