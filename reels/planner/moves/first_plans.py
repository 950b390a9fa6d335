"""
The planner's stages on one core, each improving the best plan of the watch.

Every stage may be stopped after any step; what it found until then stays.
"""

from collections.abc import Callable

import numpy as np

from reels.planner.area import fewest_whole, holdings
from reels.planner.core import Core, Ints
from reels.planner.moves.greedy import best_fit, longest_whole, orders
from reels.planner.moves.local import Local
from reels.planner.state import Draft
from reels.planner.watch import Watch


def first_plans(core: Core, watch: Watch) -> None:
    """Greedy plans in every order; the first one is always there, whatever the clock says."""
    for order in orders(core):
        watch.offer(core, best_fit(core, order), "greedy")
        if watch.over():
            return


def restricted_plans(core: Core, watch: Watch, over: Callable[[], bool]) -> None:
    """Greedy and pair re-splits on as few whole reels as the lengths allow, then on a few more."""
    needed = int(core.lengths @ core.counts)
    least = fewest_whole(core, holdings(core), needed)
    every = int(core.whole.sum())
    for number in sorted({min(every, least + more) for more in (0, 1, 2, 4)} | {every}):
        few = core.only(longest_whole(core, number))
        for order in orders(core):
            if over():
                return
            state = Draft(few, best_fit(few, order))
            Local(state, over).run()
            watch.offer(core, state.pieces, "re-split")
            if not state.missing.any() and core.levels(state.pieces)[0] == 0:
                return


def polish(core: Core, watch: Watch, over: Callable[[], bool]) -> None:
    """
    Re-split the best plan with every reel allowed.

    In the strict order, where scrap alone would open any number of whole reels, they are let in a few at a time.
    """
    pieces = best_pieces(watch)
    closed = sorted(np.flatnonzero(core.whole & (pieces.sum(axis=1) == 0)).tolist(), key=lambda r: -core.capacity[r])
    for more in (0, 1, 2, 4, 8, 16, len(closed)) if core.strict else (len(closed),):
        if more > len(closed) or over():
            return
        allowed = np.ones(len(core.capacity), dtype=bool)
        allowed[closed[more:]] = False
        state = Draft(core.only(allowed), best_pieces(watch))
        Local(state, over).run()
        watch.offer(core, state.pieces, "re-split")
        if core.strict and not state.missing.any() and core.levels(state.pieces)[0] == 0:
            return


def best_pieces(watch: Watch) -> Ints:
    """Return the best matrix of pieces, which is there once `first_plans` has run."""
    if watch.best is None:
        raise RuntimeError("no first plan yet")
    return watch.best
