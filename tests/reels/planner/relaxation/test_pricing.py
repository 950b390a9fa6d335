"""Patterns behind a price; worked by hand. Against every pattern there is in stock_lengths/test_stock_search.py."""

from dataclasses import replace

import numpy as np
import pytest

from reels.planner.core import build_core
from reels.planner.problem import TENTH_FOOT, Demand, Problem, StockReel
from reels.planner.relaxation.pricing import Pricer, Stock
from reels.planner.relaxation.relax import Prices, Relaxation, most_setups, strict_prices

FREE = Stock(np.array([10, 6]), np.array([1, 1]), np.array([0.0, 0.5]))
PROBLEM = Problem(
    TENTH_FOOT,
    (StockReel("A", 100, True), StockReel("B", 100, True), StockReel("C", 60, False), StockReel("D", 0, False)),
    (Demand("D", 30, 2, run_id="r"), Demand("E", 10, 1, run_id="s", weight=3), Demand("F", 45, 1, run_id="r")),
    keep=20,
)  # fmt: skip
CORE = build_core(PROBLEM)
PRICES = Prices(*(float(weight) for weight in CORE.weights))


def test_where_ends_are_free_a_pattern_may_stop_anywhere():
    pricer = Pricer(FREE, np.array([3, 4]), np.array([0, 1]), np.array([2, 1]))
    assert FREE.free_ends
    # 3 + 3 + 4 are worth 4; in 6 one 4 or two 3 are worth 2, less 0.5 for the opening.
    assert pricer.price(np.array([1.0, 2.0])).tolist() == [4.0, 1.5]
    # More is worth more at 3, 4, 7 and 10.
    assert pricer.near_ends(0, 9).tolist() == [10, 7, 4, 3]
    assert pricer.near_ends(0, 2).tolist() == [10, 7]
    assert pricer.near_ends(1, 9).tolist() == [4, 3]
    assert pricer.patterns(np.array([10, 7, 4, 3])).tolist() == [[2, 1], [1, 1], [0, 1], [1, 0]]


def test_an_end_worth_keeping_costs_a_remnant_and_a_run_its_set_up_once():
    stock = Stock(np.array([10]), np.array([1]), np.array([0.0]), keep=4, scrap=1.0, remnant=2.0, setup=0.5)
    assert not stock.free_ends
    pricer = Pricer(stock, np.array([3, 4]), np.array([0, 0]), np.array([2, 1]))
    # All of it: 1 + 1 + 2 less one set-up.
    assert pricer.price(np.array([1.0, 2.0])).tolist() == [3.5]
    # Alone worth 5, a 4 leaves 6 to keep: 5 less 2 less the set-up, where 3s that cost to cut are left out.
    assert pricer.price(np.array([-9.0, 5.0])).tolist() == [2.5]
    assert pricer.patterns(pricer.ends).tolist() == [[0, 1]]
    # Nothing pays: the whole reel is a remnant.
    assert pricer.price(np.array([-9.0, -9.0])).tolist() == [-2.0]


def test_reels_alike_are_priced_together():
    relaxation = Relaxation(CORE, PRICES)
    assert relaxation.reels == [[0, 1], [2]]
    assert (relaxation.stock.capacity.tolist(), relaxation.stock.available.tolist()) == ([100, 60], [2, 1])
    assert relaxation.stock.opening.tolist() == [100.0, 0.0]
    assert (relaxation.stock.setup, relaxation.stock.forced) == (2.0, None)
    assert relaxation.order.tolist() == [2, 0, 1], "of a run the longest first"
    # Dropping a cut costs at least 2 x (20 + 100 + 20 + 2) / 10 a unit, thrice for what is worth it.
    assert relaxation.master.penalty.tolist() == pytest.approx([45 * 28.4, 30 * 28.4, 10 * 28.4 * 3])
    pieces = relaxation.spread([(0, np.array([1, 0, 0])), (0, np.array([0, 2, 1])), (0, np.array([1, 1, 1]))])
    assert pieces.tolist() == [[0, 0, 1], [2, 1, 0], [0, 0, 0], [0, 0, 0]], "no more reels than there are"


def test_a_run_that_is_set_up_anyway_is_charged_no_set_up():
    reels = (StockReel("A", 100, True, frozen=(("D", 1),)), *PROBLEM.reels[1:])
    relaxation = Relaxation(build_core(replace(PROBLEM, reels=reels)), PRICES)
    assert (relaxation.stock.setup, relaxation.stock.forced.tolist()) == (0.0, [True, False, False])


def test_in_the_strict_order_later_levels_never_outweigh_a_unit_of_scrap():
    prices = strict_prices(CORE)
    assert prices.scrap == 1.0
    assert prices.whole * 2 < 1
    assert prices.remnant * 4 < prices.whole
    assert most_setups(CORE) == 4
    assert prices.setup * most_setups(CORE) < prices.whole
    assert Relaxation.cells(CORE) == (2 + 2 + 2) * 101, "no fewer parts than the pricing makes"
