"""
Exact re-split of two reels, and of one reel against the pieces still missing.

The pieces of both reels are taken together and every way to share them out is listed as an array of total lengths
(all sums of multiples, as in the dynamic programme of R. Bellman (1957), but as a list because few pieces share a
reel). The cheapest pair of end pieces wins; set-ups break ties or count at their rate.
"""

from dataclasses import dataclass

import numpy as np

from reels.planner.core import Core, Ints
from reels.planner.state import Draft

# Most ways to share that are listed; beyond it some demands stay where they are.
MOST_WAYS = 24_000


@dataclass(frozen=True)
class _Ways:
    """All ways to give reel A between `least` and `most` pieces of each demand: total length for A per way."""

    demands: Ints
    least: Ints
    shape: tuple[int, ...]
    sums: Ints

    def rows(self, ways: Ints) -> Ints:
        """Pieces on A [way, demand] of the ways with these numbers."""
        rows = np.tile(self.least, (len(ways), 1))
        # Demands that stay put leave the numbering alone, and numpy takes no more than 64 of them.
        moving = [place for place, width in enumerate(self.shape) if width > 1]
        if moving:
            rows[:, moving] += np.stack(np.unravel_index(ways, [self.shape[place] for place in moving]), axis=1)
        return rows


def best_end_cost(core: Core, slack: int) -> int:
    """Least that two end pieces of together `slack` can cost."""
    scrap, _, remnant, _ = core.weights
    return min(slack * scrap, remnant) if slack >= core.keep else slack * scrap


def may_gain(state: Draft, a: int, b: int) -> bool:
    """Whether any re-split of two reels could cost less than they do now. Cheap, errs on the side of yes."""
    core = state.core
    now = state.cost[a] + state.cost[b]
    runs_a, runs_b = state.pieces[a] > 0, state.pieces[b] > 0
    least_setups = 0
    if core.weights[3] and not (core.frozen_runs[a] or core.frozen_runs[b]):
        least_setups = len(set(core.runs[runs_a | runs_b].tolist())) * core.weights[3]
    room = int(state.left[a] + state.left[b])
    opening = core.weights[1]
    both = best_end_cost(core, room) + opening * (int(core.whole[a]) + int(core.whole[b]))
    if both + least_setups < now:
        return True
    for one, other in ((a, b), (b, a)):
        total = int(core.capacity[other] - state.left[other])
        if not core.started[other] and total <= state.left[one]:
            end = int(state.left[one]) - total
            alone = (core.weights[2] if end >= core.keep else end * core.weights[0]) + opening * int(core.whole[one])
            if alone + least_setups < now:
                return True
    return False


def resplit(state: Draft, a: int, b: int, extra: int | None = None, seed: int = 0) -> bool:
    """
    Share the pieces of reels A and B out anew where that costs less; True when it did.

    extra : a missing demand of which one piece must find room as well; then any split is a gain.
    seed : chooses what stays put when there are too many ways to list.
    """
    core = state.core
    together = state.pieces[a] + state.pieces[b]
    if extra is not None:
        together[extra] += 1
    ways = _list_ways(core, together, state.pieces[a], seed)
    total = int(together @ core.lengths)
    ends_a = int(core.capacity[a]) - ways.sums
    ends_b = int(core.capacity[b]) - total + ways.sums
    fits = np.flatnonzero((ends_a >= 0) & (ends_b >= 0))
    if not len(fits):
        return False
    costs = _side_cost(core, a, ends_a[fits]) + _side_cost(core, b, ends_b[fits])
    now = state.cost[a] + state.cost[b] if extra is None else None
    setup = core.weights[3]
    if now is not None:
        costly = costs + setup * _fewest_setups(core, a, b, together) >= now
        fits, costs = fits[~costly], costs[~costly]
        if not len(fits):
            return False
    if setup:
        spread = setup * len(ways.demands)
        near = costs <= costs.min() + spread
        fits, costs = fits[near], costs[near]
        rows = ways.rows(fits)
        costs = costs + setup * (
            _setups(core, a, ways.demands, rows) + _setups(core, b, ways.demands, together[ways.demands] - rows)
        )
    best = int(costs.argmin())
    if now is not None and costs[best] >= now:
        return False
    row_a = np.zeros_like(together)
    row_a[ways.demands] = ways.rows(fits[best : best + 1])[0]
    state.put(a, row_a)
    state.put(b, together - row_a)
    return True


def exchange(state: Draft, reel: int, seed: int = 0) -> bool:
    """Choose anew among a reel's pieces and the missing ones: least penalty, then least cost. True on a gain."""
    core = state.core
    together = state.pieces[reel] + np.minimum(state.missing, core.capacity[reel] // core.lengths)
    ways = _list_ways(core, together, state.pieces[reel], seed)
    ends = int(core.capacity[reel]) - ways.sums
    fits = np.flatnonzero(ends >= 0)
    rows = ways.rows(fits)
    penalties = -(rows @ core.penalty[ways.demands])
    now = -int(state.pieces[reel][ways.demands] @ core.penalty[ways.demands])
    best = int(penalties.min())
    if best > now:
        return False
    keep = np.flatnonzero(penalties == best)
    fits, rows = fits[keep], rows[keep]
    costs = _side_cost(core, reel, ends[fits]) + core.weights[3] * _setups(core, reel, ways.demands, rows)
    choice = int(costs.argmin())
    if best == now and costs[choice] >= state.cost[reel]:
        return False
    row = np.zeros_like(together)
    row[ways.demands] = rows[choice]
    state.put(reel, row)
    return True


def _list_ways(core: Core, together: Ints, on_a: Ints, seed: int) -> _Ways:
    demands = np.flatnonzero(together)
    least = np.zeros(len(demands), dtype=np.int64)
    most = together[demands].copy()
    if np.prod(most + 1.0) > MOST_WAYS:
        ways = 1
        for place in np.random.default_rng(seed).permutation(len(demands)):
            if ways * (most[place] + 1) > MOST_WAYS:
                least[place] = most[place] = on_a[demands[place]]
            ways *= int(most[place] - least[place]) + 1
    sums = np.zeros(1, dtype=np.int64)
    for demand, low, high in zip(demands, least, most, strict=True):
        sums = (sums[:, None] + core.lengths[demand] * np.arange(low, high + 1)).ravel()
    return _Ways(demands, least, tuple(int(width) for width in most - least + 1), sums)


def _side_cost(core: Core, reel: int, ends: Ints) -> Ints:
    """Cost of one reel by end piece, set-ups left out; nothing when it stays untouched."""
    cost = core.end_cost(ends) + core.weights[1] * int(core.whole[reel])
    if not core.started[reel]:
        cost[ends == core.capacity[reel]] = 0
    return cost


def _fewest_setups(core: Core, a: int, b: int, together: Ints) -> int:
    if core.frozen_runs[a] or core.frozen_runs[b]:
        return 0
    return len(set(core.runs[together > 0].tolist()))


def _setups(core: Core, reel: int, demands: Ints, rows: Ints) -> Ints:
    """Set-ups on a reel for each row of pieces."""
    runs = core.runs[demands]
    frozen = core.frozen_runs[reel]
    count = np.zeros(len(rows), dtype=np.int64)
    for run in dict.fromkeys(runs.tolist()):
        if run not in frozen:
            count += (rows[:, runs == run] > 0).any(axis=1)
    return count
