"""Sharing the pieces of two reels out anew; worked by hand."""

from fractions import Fraction

import numpy as np

from reels.planner.core import build_core
from reels.planner.moves.local import Local
from reels.planner.moves.resplit import best_end_cost, exchange, may_gain, resplit
from reels.planner.problem import TENTH_FOOT, Demand, Problem, Rates, StockReel
from reels.planner.state import Draft


def core_of(*lengths, demands, keep=20, whole=False, rates=None):
    reels = tuple(StockReel(f"R{number}", length, whole) for number, length in enumerate(lengths))
    return build_core(Problem(TENTH_FOOT, reels, tuple(demands), keep=keep, rates=rates or Rates()))


def draft(core, *rows):
    return Draft(core, np.array(rows))


def test_two_ends_cost_least_as_one():
    core = core_of(100, demands=[Demand("D", 30, 1)])
    # Scrap costs 1 a unit, a remnant 20: below the keep length only scrap is possible.
    assert [best_end_cost(core, slack) for slack in (0, 19, 20, 50)] == [0, 19, 20, 20]
    # 50 is scrap where only 90 and more is kept, though a remnant would cost less.
    assert best_end_cost(core_of(100, demands=[Demand("D", 30, 1)], keep=90), 50) == 50


def test_pieces_are_shared_so_that_the_ends_cost_least():
    # 50 and 50 hold 25 + 25 and 20 + 20 without scrap; 25 + 20 on each scraps 5 twice.
    core = core_of(50, 40, demands=[Demand("D", 25, 2), Demand("E", 20, 2)])
    state = draft(core, [1, 1], [0, 1])
    state.missing[:] = 0
    assert may_gain(state, 0, 1)
    assert not resplit(draft(core, [2, 0], [0, 2]), 0, 1)
    bad = draft(core_of(50, 50, demands=[Demand("D", 30, 2), Demand("E", 20, 2)], keep=45), [1, 0], [1, 2])
    assert bad.left.tolist() == [20, -20]


def test_a_split_that_costs_no_less_is_none():
    core = core_of(55, 45, demands=[Demand("D", 30, 1), Demand("E", 25, 1), Demand("F", 20, 2)], keep=90)
    state = draft(core, [0, 1, 1], [1, 0, 0])
    # 25 + 20 leaves 10, 30 leaves 15; 30 + 25 leaves nothing and 20 + 20 5, but only one F is cut: 25 in all.
    assert state.left.tolist() == [10, 15]
    assert not resplit(state, 0, 1)
    assert resplit(state, 0, 1, extra=2)
    assert state.left.sum() == 5
    assert state.missing.tolist() == [0, 0, 0]


def test_a_reel_may_be_emptied_into_another():
    rates = Rates(Fraction(10), Fraction(0), Fraction(1, 5))
    core = core_of(100, 100, demands=[Demand("D", 30, 1), Demand("E", 30, 1)], whole=True, rates=rates)
    state = draft(core, [1, 0], [0, 1])
    # Two whole reels and two set-ups; with both on one reel the other could go back.
    assert may_gain(state, 0, 1)
    assert resplit(state, 0, 1)
    assert sorted(state.left.tolist()) == [40, 100]
    assert not may_gain(state, 0, 1)
    assert not resplit(state, 0, 1)


def test_a_reel_takes_the_missing_pieces_that_are_worth_more():
    core = core_of(50, demands=[Demand("D", 30, 1), Demand("E", 25, 2), Demand("F", 50, 1, weight=1)], keep=90)
    state = draft(core, [1, 0, 0])
    assert exchange(state, 0)
    assert state.left.tolist() == [0]
    assert not exchange(state, 0)


def test_missing_pieces_find_room_alone_or_by_a_new_split():
    core = core_of(50, 50, demands=[Demand("D", 30, 2), Demand("E", 20, 2)], keep=90)
    state = draft(core, [1, 0], [0, 1])
    Local(state, lambda: False).place_missing()
    assert (state.missing.tolist(), state.left.tolist()) == ([0, 0], [0, 0])
    # 20 is left on each reel, 40 together: the last D needs a re-split.
    tight = core_of(50, 60, demands=[Demand("D", 30, 1), Demand("E", 20, 4)], keep=90)
    state = draft(tight, [0, 2], [0, 2])
    assert state.left.tolist() == [10, 20]
    Local(state, lambda: False).place_missing()
    assert (state.missing.tolist(), sorted(state.left.tolist())) == ([0, 0], [0, 0])
    stopped = draft(tight, [0, 2], [0, 2])
    Local(stopped, lambda: True).place_missing()
    assert stopped.missing.tolist() == [1, 0]


def test_an_empty_reel_with_nothing_missing_stays_empty():
    core = core_of(50, 50, demands=[Demand("D", 30, 1)])
    state = draft(core, [1], [0])
    assert not exchange(state, 1)
    assert state.pieces.tolist() == [[1], [0]]


def test_pairs_are_split_anew_until_none_gains():
    rates = Rates(Fraction(10), Fraction(0), Fraction(1, 5))
    core = core_of(100, 100, demands=[Demand("D", 30, 1), Demand("E", 30, 1)], whole=True, rates=rates)
    state = draft(core, [1, 0], [0, 1])
    Local(state, lambda: False).run()
    assert sorted(state.left.tolist()) == [40, 100], "one reel serves both"
