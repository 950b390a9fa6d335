"""
Improvement by re-splitting pairs of reels until no pair gains any more.

Pairs are visited in an order that puts likely gains first: missing pieces, reels that end in scrap, reels that
share a run, the rest. A pair that failed is not looked at again until one of its reels changes.
"""

from collections.abc import Callable

import numpy as np

from reels.planning.resplit import exchange, may_gain, resplit
from reels.planning.state import State


class Local:
    """Remembers which pairs failed, so that it can be run again cheaply on the same state."""

    def __init__(self, state: State, over: Callable[[], bool]) -> None:
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
            if self.over():
                break
            gained |= self._try(a, b)
        return gained

    def _try(self, a: int, b: int) -> bool:
        state = self.state
        seen = (state.stamp[a], state.stamp[b])
        if self.failed.get((a, b)) == seen:
            return False
        if may_gain(state, a, b) and resplit(state, a, b, seed=sum(seen)):
            return True
        self.failed[a, b] = seen
        return False

    def _candidates(self) -> list[tuple[int, int]]:
        """All pairs with at least one reel in use, likely gains first."""
        state, core = self.state, self.state.core
        used = state.used
        scrap = used & (state.left > 0) & (state.left < core.keep)
        has = state.pieces > 0
        reels = np.arange(len(core.capacity))
        a, b = np.triu_indices(len(reels), 1)
        worth = used[a] | used[b]
        a, b = a[worth], b[worth]
        share = (has.astype(np.float32) @ has.T.astype(np.float32))[a, b] > 0
        key = np.where(scrap[a] | scrap[b], 0, np.where(share, 1, 2))
        order = np.lexsort((b, a, key))
        return list(zip(a[order].tolist(), b[order].tolist(), strict=True))

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
