"""
Improvement by re-splitting pairs of reels until no pair gains any more.

Pairs are visited in an order that puts likely gains first: missing pieces, reels that end in scrap, reels that
share a run, the rest. A pair that failed is not looked at again until one of its reels changes.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from reels.planner.core import Ints
from reels.planner.moves.resplit import exchange, may_gain, resplit
from reels.planner.state import Draft


class Local:
    """Remembers which pairs failed, so that it can be run again cheaply on the same state."""

    def __init__(self, state: Draft, over: Callable[[], bool]) -> None:
        self.state = state
        self.over = over
        self.failed: dict[tuple[int, int], tuple[int, int]] = {}
        self.failed_alone: dict[int, tuple[int, bytes]] = {}

    def run(self) -> None:
        """Re-split until nothing gains or time is over."""
        while not self.over():
            gained = self.place_missing()
            gained |= self._pairs()
            if not gained:
                return

    def _pairs(self) -> bool:
        gained = False
        for a, b in self._candidates():
            seen = (self.state.stamp[a], self.state.stamp[b])
            if self.failed.get((a, b)) == seen or not may_gain(self.state, a, b):
                continue
            if self.over():
                break
            if resplit(self.state, a, b, seed=sum(seen)):
                gained = True
            else:
                self.failed[a, b] = seen
        return gained

    def _candidates(self) -> list[tuple[int, int]]:
        """Pairs that could gain as things stand, likely gains first."""
        state, core = self.state, self.state.core
        used = state.used
        scrap = used & (state.left > 0) & (state.left < core.keep)
        reels = np.flatnonzero(core.capacity > 0)
        a, b = np.triu_indices(len(reels), 1)
        a, b = reels[a], reels[b]
        runs = self._runs(used)
        shared = (runs @ runs.T)[a, b]
        gains = self._may_gain(a, b, used, shared, runs.sum(axis=1))
        a, b, shared = a[gains], b[gains], shared[gains]
        key = np.where(scrap[a] | scrap[b], 0, np.where(shared > 0, 1, 2))
        order = np.lexsort((b, a, key))
        return list(zip(a[order].tolist(), b[order].tolist(), strict=True))

    def _runs(self, used: NDArray[np.bool_]) -> NDArray[np.float32]:
        """Matrix [reels, runs] of the runs that are cut from each reel."""
        state, core = self.state, self.state.core
        runs = np.zeros((len(used), int(core.runs.max(initial=-1)) + 1), dtype=np.float32)
        reels, demands = np.nonzero(state.pieces)
        runs[reels, core.runs[demands]] = 1.0
        return runs

    def _may_gain(
        self, a: Ints, b: Ints, used: NDArray[np.bool_], shared: NDArray[np.float32], own: NDArray[np.float32]
    ) -> NDArray[np.bool_]:
        """Tell `resplit.may_gain` for many pairs at once."""
        state, core = self.state, self.state.core
        scrap, whole, remnant, setup = core.weights
        cost = np.array(state.cost)
        setups = 0 if any(core.frozen_runs) else setup * (own[a] + own[b] - shared)
        room = state.left[a] + state.left[b]
        ends = np.where(room >= core.keep, np.minimum(room * scrap, remnant), room * scrap)
        least = ends + whole * (core.whole[a].astype(np.int64) + core.whole[b])
        for one, other in ((a, b), (b, a)):
            total = core.capacity[other] - state.left[other]
            end = state.left[one] - total
            alone = np.where(end >= core.keep, remnant, end * scrap) + whole * core.whole[one]
            least = np.where((end >= 0) & ~core.started[other], np.minimum(least, alone), least)
        gains: NDArray[np.bool_] = (used[a] | used[b]) & (least + setups < cost[a] + cost[b])
        return gains

    def place_missing(self) -> bool:
        """Make room for missing pieces: on one reel, on two re-split, or in exchange for cheaper ones."""
        state, core = self.state, self.state.core
        gained = False
        worth = core.penalty
        for demand in sorted(np.flatnonzero(state.missing).tolist(), key=lambda i: (-worth[i], i)):
            while state.missing[demand] > 0 and not self.over() and self._place(demand):
                gained = True
        if not state.missing.any():
            return gained
        pool = state.missing.tobytes()
        for reel in range(len(core.capacity)):
            if self.over():
                break
            seen = (state.stamp[reel], pool)
            if self.failed_alone.get(reel) == seen:
                continue
            if exchange(state, reel, seed=state.stamp[reel]):
                gained = True
                pool = state.missing.tobytes()
            else:
                self.failed_alone[reel] = seen
        return gained

    def _place(self, demand: int) -> bool:
        state, core = self.state, self.state.core
        length = int(core.lengths[demand])
        roomy = np.flatnonzero(state.left >= length)
        if len(roomy):
            # The tightest reel; an unopened whole one only when there is no other.
            reel = min(
                roomy.tolist(), key=lambda r: (bool(core.whole[r] and not state.pieces[r].any()), state.left[r], r)
            )
            row = state.pieces[reel].copy()
            row[demand] += 1
            state.put(reel, row)
            return True
        a, b = np.triu_indices(len(core.capacity), 1)
        room = state.left[a] + state.left[b]
        pairs = np.flatnonzero(room >= length)
        for pair in pairs[np.lexsort((b[pairs], a[pairs], -room[pairs]))].tolist():
            if self.over():
                return False
            if resplit(state, int(a[pair]), int(b[pair]), extra=demand):
                return True
        return False
