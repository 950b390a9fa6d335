"""
The planner's stages on one core, each improving the best plan of the watch.

Every stage may be stopped after any step; what it found until then stays.
"""

import numpy as np

from reels.planning.area import fewest_whole, holdings
from reels.planning.core import Core
from reels.planning.greedy import best_fit, longest_whole, orders
from reels.planning.local import Local
from reels.planning.state import State
from reels.planning.watch import Watch


def first_plans(core: Core, watch: Watch) -> None:
    """Greedy plans in every order; the first one is always there, whatever the clock says."""
    for order in orders(core):
        watch.offer(core, best_fit(core, order), "greedy")
        if watch.over():
            return


def restricted_plans(core: Core, watch: Watch) -> None:
    """Greedy and pair re-splits on as few whole reels as the lengths allow, then on a few more."""
    needed = int(core.lengths @ core.counts)
    least = fewest_whole(core, holdings(core), needed)
    every = int(core.whole.sum())
    numbers = sorted({min(every, least + more) for more in (0, 1, 2, 4)} | {every})
    for number in numbers:
        for order in orders(core):
            if watch.over():
                return
            state = State(core, best_fit(core, order, longest_whole(core, number)))
            Local(state, watch.over).run()
            watch.offer(core, state.pieces, "re-split")
        if not State(core, _best(watch)).missing.any() and number > least + 1:
            return


def _best(watch: Watch) -> np.ndarray:
    assert watch.best is not None  # first_plans has run
    return watch.best
