"""HiGHS is believed only where its bound carries its answer."""

import numpy as np

from reels.planner.relaxation.highs import solve_mip


def test_a_start_that_is_handed_back_as_the_best_is_not_believed():
    """Found by random problems: HiGHS 1.16 called this start of 42 optimal, with a bound of 0; 39 is possible."""
    lengths = np.array([14.0, 13.0, 15.0])
    count = [3.0, 3.0, 2.0]
    cost = np.concatenate((np.zeros(3), lengths, np.zeros(2)))
    upper = np.array([3, 3, 2, 3, 3, 2, 1, 1], dtype=float)
    rows = [(np.array([0, 1, 2], dtype=np.int32), lengths, -np.inf, 78.0)]
    for demand, set_ in ((0, 6), (1, 7), (2, 7)):
        both = np.array([demand, 3 + demand], dtype=np.int32)
        rows.append((both, np.ones(2), count[demand], count[demand]))
        rows.append((np.array([3 + demand, set_], dtype=np.int32), np.array([1.0, -count[demand]]), -np.inf, 0.0))
    start = np.array([0, 3, 2, 3, 0, 0, 1, 0], dtype=float)

    answer = solve_mip(cost, upper, np.ones(8, dtype=bool), rows, 5.0, 500, start=start)

    assert (answer.optimal, round(answer.bound)) == (True, 39)
    assert round(float(cost @ answer.values)) == 39
