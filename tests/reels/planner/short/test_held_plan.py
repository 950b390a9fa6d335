"""What an accepted plan holds on to."""

import numpy as np

from reels.planner.problem import TENTH_FOOT, Demand, Problem, StockReel
from reels.planner.short.held_plan import frozen_pieces, held, held_beside, releases, without

PROBLEM = Problem(
    TENTH_FOOT,
    (StockReel("A", 100, True, frozen=(("D", 1),)), StockReel("B", 90, False, tail=10)),
    (Demand("D", 30, 3), Demand("F", 45, 1), Demand("G", 45, 1, date_class=0)),
    keep=20,
)
NOTHING = [[0, 0, 0], [0, 0, 0]]


def test_what_no_longer_fits_is_left_out_the_shortest_of_the_latest_first():
    assert frozen_pieces(PROBLEM).tolist() == [[1, 0, 0], [0, 0, 0]]
    # 70 are left on A: F goes before D, which is as early and shorter. B's 80: G is pulled first, then D fits.
    part = held(PROBLEM, np.array([[1, 1, 0], [1, 1, 1]]))
    assert [reel.frozen for reel in part.reels] == [(("D", 1), ("F", 1)), (("D", 1), ("G", 1))]
    assert part.kept == ()
    more = held(PROBLEM, np.array([[9, 0, 0], [0, 0, 0]]))
    assert more.reels[0].frozen == (("D", 3),), "no more than is needed, those frozen counted"
    assert held(PROBLEM, np.array(NOTHING)).reels[1].frozen == ()


def test_released_reels_hold_nothing():
    kept = np.array([[1, 1, 0], [1, 0, 1]])
    assert without(kept, frozenset({0})).tolist() == [[0, 0, 0], [1, 0, 1]]
    assert without(kept, frozenset()).tolist() == kept.tolist()
    assert kept.sum() == 4


def test_reels_with_the_longest_ends_are_released_first_then_more_then_all():
    # A has 100 - 75 = 25 left, B 80 - 75 = 5.
    kept = np.array([[1, 1, 0], [1, 0, 1]])
    assert list(releases(PROBLEM, kept)) == [frozenset(), frozenset({0}), frozenset({0, 1})]
    assert list(releases(PROBLEM, np.array(NOTHING))) == [frozenset()]


def test_pieces_that_did_not_move_are_held_and_the_others_stand_beside():
    kept, pieces = np.array([[0, 1, 0], [0, 0, 1]]), np.array([[1, 1, 0], [1, 0, 0]])
    part, beside = held_beside(PROBLEM, kept, pieces)
    assert [reel.frozen for reel in part.reels] == [(("D", 1), ("F", 1)), ()]
    assert beside.tolist() == [[1, 0, 0], [1, 0, 0]]
