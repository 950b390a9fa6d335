"""What is proven is only ever raised."""

import numpy as np

from reels.planner.bounds import ProvenBounds
from reels.planner.core import build_core
from reels.planner.problem import TENTH_FOOT, Demand, Problem, StockReel
from reels.planner.short.shortfall import Shortfall

# Two pieces of 60, one reel of 100: one stays uncut.
PROBLEM = Problem(TENTH_FOOT, (StockReel("R", 100, False),), (Demand("D", 60, 2),), keep=20)


def test_an_exact_search_raises_what_is_known_to_stay_uncut_and_never_lowers_it():
    proof = ProvenBounds(PROBLEM, build_core(PROBLEM))
    sets, unmet, weighted = proof.short_levels
    pieces = np.zeros((1, 1), dtype=np.int64)
    proof.take_short(Shortfall(pieces))
    assert proof.short_levels == (sets, unmet, weighted)
    proof.take_short(Shortfall(pieces, (0,), 0, 0))
    assert proof.short_levels == (sets, unmet, weighted)
    proof.take_short(Shortfall(pieces, (9,), unmet + 5, weighted + 7, least=("best",)))
    assert proof.short_levels == ((9,), unmet + 5, weighted + 7)
    assert proof.short_rank == ("best",)
