"""
Cut planning against published problems.

Numbers re-solved where the source gives only the data; `from memory` where no copy of the source was at hand.
"""

import pytest

from reels.planner.problem import Limits
from reels.planner.stock_lengths.stock_problem import StockLength, StockProblem
from reels.planner.stock_lengths.stock_search import Search, plan_stock

T60_00 = (
    "495 474 473 472 466 450 445 444 439 430 419 414 410 395 372 370 366 366 366 363 361 357 355 351 350 350 347 320 "
    "315 307 303 299 298 298 292 288 287 283 275 275 274 273 273 272 272 271 269 269 268 263 262 261 259 258 255 254 "
    "252 252 252 251"
)
N1C1W1_A = (
    "99 99 96 96 92 92 91 88 87 86 85 76 74 72 69 67 67 62 61 56 52 51 49 46 44 42 40 40 33 33 30 30 29 28 28 27 25 24 "
    "23 22 21 20 17 14 13 11 10 7 7 3"
)


def lengths(text):
    return [int(word) for word in text.split()]


@pytest.mark.parametrize(
    ("stock", "items", "demands", "optimum"),
    [
        pytest.param(
            5600,
            [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200],
            [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20],
            73,
            id="thirteen widths, first fit needs 82: Wikipedia, Cutting stock problem",
        ),
        pytest.param(
            100, [45, 36, 31, 14], [97, 610, 395, 211], 453, id="raws: V. Chvatal (1983), Linear Programming, ch. 13"
        ),
        pytest.param(
            110,
            [20, 45, 50, 55, 75],
            [48, 35, 24, 10, 8],
            47,
            id="rolls: R. Fourer, D. Gay, B. Kernighan, AMPL, ch. 15, cut.dat",
        ),
        pytest.param(100, lengths(N1C1W1_A), [1] * 50, 25, id="N1C1W1_A: A. Scholl, R. Klein, bin packing data set 1"),
        pytest.param(
            100, [20, 30, 40, 50], [100, 120, 40, 20], 82, id="no waste at all: data of public lecture notes, re-solved"
        ),
        pytest.param(
            1000, lengths(T60_00), [1] * 60, 20, id="triplets t60_00: E. Falkenauer, OR-Library binpack5, from memory"
        ),
    ],
)
def test_a_published_problem_is_solved_and_proven(stock, items, demands, optimum):
    problem = StockProblem(
        (StockLength(stock, None, 1),), tuple(zip(items, demands, strict=True)), Limits(seconds=60.0)
    )

    plan = plan_stock(problem)

    assert (plan.cost, plan.bound, plan.stopped) == (optimum, optimum, "proven")


@pytest.mark.parametrize(("stock", "bins"), [(60, 3), (61, 4)], ids=["smaller stock", "one unit longer"])
def test_first_fit_decreasing_can_do_worse_on_longer_stock(stock, bins):
    """R. Graham's anomaly, in E. Coffman, M. Garey, D. Johnson on approximate bin packing; from memory."""
    problem = StockProblem(
        (StockLength(stock, None, 1),), tuple((length, 1) for length in (44, 24, 24, 22, 21, 17, 8, 8, 6, 6))
    )
    search = Search(problem, None)

    assert len(search.first_fit(search.counts.copy(), search.stock.available.copy())) == bins
    assert plan_stock(problem).cost == 3
