"""First plans, piece by piece; worked by hand."""

import numpy as np

from reels.planner.core import build_core
from reels.planner.moves.greedy import add_best_fit, best_fit, longest_whole, orders
from reels.planner.problem import TENTH_FOOT, Demand, Problem, StockReel

CORE = build_core(
    Problem(
        TENTH_FOOT,
        (StockReel("A", 70, False), StockReel("B", 40, False), StockReel("C", 47, True), StockReel("E", 60, True)),
        (Demand("D", 30, 3), Demand("E", 10, 2, weight=3), Demand("F", 45, 1)),
        keep=20,
    )
)


def test_orders_are_by_worth_by_length_and_by_length_of_all():
    # Worth 1, 3, 1 a unit; lengths 30, 10, 45; all of it 90, 20, 45.
    assert orders(CORE) == [[1, 2, 0], [2, 0, 1], [0, 2, 1]]


def test_a_piece_goes_where_least_is_left_and_opens_the_shortest_whole_reel_last():
    # D: B (40), then A twice. E: the 10 of A, the 10 of B. F: no short reel holds it, C is the shorter whole one.
    assert best_fit(CORE, [0, 1, 2]).tolist() == [[2, 1, 0], [1, 1, 0], [0, 0, 1], [0, 0, 0]]
    # F first goes to A, which is no whole reel; then D to B, C and E, and E to the 10 of B and the 17 of C.
    assert best_fit(CORE, [2, 0, 1]).tolist() == [[0, 0, 1], [1, 1, 0], [1, 1, 0], [1, 0, 0]]


def test_only_reels_that_are_allowed_are_used_and_the_rest_stays_uncut():
    allowed = np.array([False, True, False, False])
    assert best_fit(CORE, [0, 1, 2], allowed).tolist() == [[0, 0, 0], [1, 1, 0], [0, 0, 0], [0, 0, 0]]
    none = np.zeros((0, 3), dtype=np.int64)
    missing = np.array([1, 1, 1])
    add_best_fit(CORE, none, np.zeros(0, dtype=np.int64), np.zeros(0, dtype=bool), [0, 1, 2], missing)
    assert missing.tolist() == [1, 1, 1]


def test_short_reels_and_the_longest_whole_ones_are_allowed():
    assert [longest_whole(CORE, number).tolist() for number in (0, 1, 2)] == [
        [True, True, False, False], [True, True, False, True], [True, True, True, True],
    ]  # fmt: skip
