"""
First plans: one piece after the other onto the reel it fits best.

Best fit and first fit decreasing as in D. S. Johnson et al. (1974), Worst-case performance bounds for simple
one-dimensional packing algorithms, SIAM J. Computing 3, with short reels before whole ones.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reels.planner.core import Core, Ints


def best_fit(core: Core, order: Sequence[int], allowed: NDArray[np.bool_] | None = None) -> Ints:
    """
    Pieces [reels, demands] when each piece goes to the opened or short reel it leaves least on, else to a new one.

    order : demands in the order to place them.
    allowed : reels that may be used; all when None.
    A new whole reel is the shortest that holds the piece.
    """
    pieces = np.zeros((len(core.capacity), len(core.lengths)), dtype=np.int64)
    left = core.capacity.copy()
    if allowed is not None:
        left[~allowed] = -1
    add_best_fit(core, pieces, left, core.whole.copy(), order, core.counts.copy())
    return pieces


def add_best_fit(
    core: Core, pieces: Ints, left: Ints, closed: NDArray[np.bool_], order: Sequence[int], missing: Ints
) -> None:
    """
    Place missing pieces by best fit, in place.

    left : length left per reel, negative for one that must not be used; closed : whole reels not opened yet.
    """
    if not len(left):
        return
    # A closed reel looks longer than any other, so it is opened only when nothing else holds the piece.
    far = int(core.capacity.max(initial=0)) + 1
    for demand in order:
        length = int(core.lengths[demand])
        for _ in range(int(missing[demand])):
            key = np.where(left >= length, left + far * closed, 4 * far)
            reel = int(key.argmin())
            if left[reel] < length:
                break
            left[reel] -= length
            closed[reel] = False
            pieces[reel, demand] += 1
            missing[demand] -= 1


def orders(core: Core) -> list[list[int]]:
    """Orders worth trying: as the penalty per length ranks, then longest first; longest first; most length first."""
    demands = range(len(core.lengths))
    worth = core.penalty / core.lengths
    return [
        sorted(demands, key=lambda i: (-worth[i], -core.lengths[i], i)),
        sorted(demands, key=lambda i: (-core.lengths[i], i)),
        sorted(demands, key=lambda i: (-core.lengths[i] * core.counts[i], i)),
    ]


def longest_whole(core: Core, number: int) -> NDArray[np.bool_]:
    """Mask of all short reels and the `number` longest whole ones."""
    allowed = ~core.whole
    whole = sorted(np.flatnonzero(core.whole), key=lambda r: (-core.capacity[r], r))
    allowed[whole[:number]] = True
    return allowed
