"""Which patterns a dive fixes; worked by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from reels.planner.relaxation.dive import _pick
from reels.planner.relaxation.master import Master

TWO = SimpleNamespace(kinds=[0, 0], patterns=[np.array([1, 0]), np.array([0, 1])])


@pytest.mark.parametrize(
    ("use", "picked"),
    [
        # A pattern that is used once and more comes before one that is nearly used once.
        ([1.2, 0.9], [[1, 0]]),
        ([0.9, 1.2], [[0, 1]]),
        # Below one the larger part decides.
        ([0.4, 0.7], [[0, 1]]),
        ([2.0, 0.9], [[1, 0], [1, 0]]),
    ],
)
def test_the_most_used_pattern_is_fixed_first(use, picked):
    left, free = np.array([5, 5]), np.array([9])
    found = _pick(TWO, np.array(use), left, free, None, share=0.12)
    assert [pattern.tolist() for _, pattern in found] == picked
    assert free.tolist() == [9 - len(picked)]
    assert left.tolist() == (np.array([5, 5]) - np.sum(picked, axis=0)).tolist()


@pytest.mark.parametrize(
    ("forced", "bound"),
    [
        # 3 a piece for 4 pieces, less what patterns gain on the 2 of each stock: nothing where they only lose, ...
        (None, 12 - 2 * 5),
        # ... but stock that must be used loses it all the same.
        (np.array([True, False]), 12 + 2 * 1 - 2 * 5),
    ],
)
def test_a_bound_counts_what_stock_that_must_be_used_loses(forced, bound):
    stock = SimpleNamespace(forced=forced, available=np.array([2, 2]), free_ends=False)
    master = SimpleNamespace(stock=stock, counts=np.array([4]))
    assert Master.lagrangian(master, np.array([3.0]), np.array([-1.0, 5.0])).bound == bound
