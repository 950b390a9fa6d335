"""
Dive: fix the patterns the linear programme uses most, price again for what is left, until all is cut.

As in G. Belov, G. Scheithauer (2006), EJOR 171, for the residual problems, and R. Sadykov et al. (2019), Primal
heuristics for branch and price, INFORMS J. Computing 31, for the rounding.
"""

from collections.abc import Callable

import numpy as np

from reels.planner.relaxation.master import Master, generate
from reels.planner.relaxation.pricing import Ints

# At most this share of what is still to be chosen is fixed in one round.
SHARE = 0.12


def dive(
    master: Master,
    over: Callable[[], bool],
    rounds: int = 6,
    several: int = 4,
    seed: int | None = None,
    share: float = SHARE,
) -> list[tuple[int, Ints]]:
    """
    Patterns with their stock kinds that cut all demands of the master, or as many as the dive could.

    seed : disturbs the choice a little, for another try; None takes the plain rounding.
    The master's demands are put back afterwards. Stopped early, it returns what was fixed until then.
    """
    counts, available = master.counts.copy(), master.stock.available.copy()
    left, free = counts.copy(), available.copy()
    chosen: list[tuple[int, Ints]] = []
    random = np.random.default_rng(seed)
    try:
        while left.any():
            master.restrict(left, free)
            generate(master, rounds, over, several=several, prove=False)
            if over():
                break
            master.solve()
            use = master.use()
            picked = _pick(master, use, left, free, random if seed is not None else None, share)
            if not picked:
                break
            chosen += picked
    finally:
        master.restrict(counts, available)
    return chosen


def _pick(
    master: Master, use: np.ndarray, left: Ints, free: Ints, random: np.random.Generator | None, share: float
) -> list[tuple[int, Ints]]:
    """Fix the most used patterns and take them off `left` and `free`, in place."""
    active = np.flatnonzero(use > 1e-6)
    total = float(use[active].sum())
    most = max(1, int(share * total))
    score = use[active] - np.floor(use[active] + 1e-6)
    score = np.where(use[active] >= 1 - 1e-6, 2.0 + use[active], score)
    if random is not None:
        score = score + 0.3 * random.random(len(active))
    picked: list[tuple[int, Ints]] = []
    for column in active[np.lexsort((active, -score))].tolist():
        kind, pattern = master.kinds[column], master.patterns[column]
        times = max(1, int(use[column] + 1e-6))
        for _ in range(times):
            if free[kind] <= 0 or (pattern > left).any():
                break
            left -= pattern
            free[kind] -= 1
            picked.append((kind, pattern))
        if len(picked) >= most:
            return picked
    if not picked and len(active):
        column = int(active[use[active].argmax()])
        kind, pattern = master.kinds[column], np.minimum(master.patterns[column], left)
        if free[kind] > 0 and pattern.any():
            left -= pattern
            free[kind] -= 1
            picked.append((kind, pattern))
    return picked
