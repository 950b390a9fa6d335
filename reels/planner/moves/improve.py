"""
Improvement by small exact problems: a few reels at a time, everything else held.

Large neighbourhood search after P. Shaw (1998), Using constraint programming and local search methods to solve
vehicle routing problems, CP98, with `assignment` in place of constraint programming.
"""

from collections.abc import Callable

import numpy as np

from reels.planner.core import Core, Ints
from reels.planner.moves.assignment import Weights, assign
from reels.planner.moves.first_plans import best_pieces
from reels.planner.moves.local import Local
from reels.planner.relaxation.highs import Floats
from reels.planner.state import Draft
from reels.planner.watch import Watch

# The levels' ranks on a few reels, with coefficients a floating-point solver keeps apart.
STRICT_MILP: Weights = (1000.0, 200.0, 20.0, 1.0)
SECONDS_EACH = 1.0
NODES_EACH = 400


def improve(core: Core, watch: Watch, tries: int, over: Callable[[], bool]) -> None:
    """Solve neighbourhoods of the best plan until `tries` in a row gain nothing."""
    random = np.random.default_rng(20)
    state = Draft(core, best_pieces(watch))
    local = Local(state, over)
    failures = 0
    seen: set[tuple[tuple[int, int], ...]] = set()
    while failures < tries and not over():
        reels = _neighbourhood(state, random)
        key = tuple((reel, state.stamp[reel]) for reel in reels)
        if key in seen or len(reels) < 2:
            failures += 1
            continue
        seen.add(key)
        if _solve(state, reels, watch):
            local.run()
            watch.offer(core, state.pieces, "neighbourhood")
            failures = 0
        else:
            failures += 1


def milp_weights(core: Core) -> Weights:
    """Cost weights for the solver."""
    return STRICT_MILP if core.strict else tuple(float(weight) for weight in core.weights)  # type: ignore[return-value]  # four in, four out


def milp_penalty(core: Core) -> Floats:
    """Cost of an uncut piece for the solver: in proportion, and the least above what a reel can cost."""
    scrap, whole, remnant, setup = milp_weights(core)
    reel = scrap * core.keep + whole + remnant + setup * 4
    least = max(1, int(core.penalty.min(initial=1)))
    return np.minimum(core.penalty / least, 1e4) * reel


def _neighbourhood(state: Draft, random: np.random.Generator) -> list[int]:
    """Return a reel that costs something and two or three others that could help it."""
    core = state.core
    cost = np.array(state.cost, dtype=float)
    used = np.flatnonzero(state.used & (core.capacity > 0))
    if not len(used):
        return []
    weight = cost[used] + cost[used].mean() * 0.2 + 1e-9
    first = int(random.choice(used, p=weight / weight.sum()))
    others = np.flatnonzero((core.capacity > 0) & (np.arange(len(cost)) != first))
    if not len(others):
        return [first]
    share = ((state.pieces[others] > 0) & (state.pieces[first] > 0)).sum(axis=1)
    lively = np.where(state.used[others], 1.0, 0.3)
    chance = lively * (1.0 + 2.0 * share)
    if state.missing.any():
        chance = chance * (1.0 + state.left[others] / core.lengths.min())
    size = min(len(others), int(random.integers(2, 4)))
    picked = random.choice(others, size=size, replace=False, p=chance / chance.sum())
    return sorted([first, *(int(reel) for reel in picked)])


def _solve(state: Draft, reels: list[int], watch: Watch) -> bool:
    """Solve one neighbourhood exactly and take the answer if it is better."""
    core = state.core
    rows = state.pieces[reels]
    pool: Ints = rows.sum(axis=0)
    penalty = None
    if state.missing.any():
        most = core.capacity[reels].max() // core.lengths
        pool = pool + np.minimum(state.missing, most)
        penalty = milp_penalty(core)
    before = state.rank()
    seconds = min(SECONDS_EACH, watch.left())
    solved = assign(core, reels, pool, rows, milp_weights(core), penalty, seconds, NODES_EACH, over=watch.over)
    watch.clocked |= solved.clocked
    if solved.pieces is None or (solved.pieces == rows).all():
        return False
    if (solved.pieces @ core.lengths > core.capacity[reels]).any():
        return False
    for reel, row in zip(reels, solved.pieces, strict=True):
        state.put(reel, row)
    if state.rank() < before and (state.missing >= 0).all():
        return True
    for reel, row in zip(reels, rows, strict=True):
        state.put(reel, row)
    return False
