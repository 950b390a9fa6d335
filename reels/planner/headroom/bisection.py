"""
Headroom: how much longer a run could turn out before the reels on hand stop covering all runs.

Lengths on site differ from drawings, so this number says which run to measure first. It is found by bisection; each
trial length is answered by a plan in hand, so `more` is proven to fit, and `at_most` is proven not to be exceeded.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from reels.planner.assemble import pieces_of
from reels.planner.core import Core, Ints, build_core
from reels.planner.moves.local import Local
from reels.planner.plan import Plan
from reels.planner.problem import Problem
from reels.planner.state import Draft
from reels.planner.watch import Watch

TOTAL = "total length"
LONGEST = "longest reel"
SHORT = "short already"
FROZEN = "frozen"


@dataclass(frozen=True, slots=True)
class Headroom:
    """
    How much longer a set may turn out.

    name : the set.
    more : each of its pieces can be this much longer and all runs are still covered. [units]
    at_most : no more than this can ever fit. [units]
    bottleneck : what stops it: TOTAL (all reels together), LONGEST (one piece on the longest reel), SHORT,
        FROZEN (all its pieces are settled on reels), or the id of the reel that has the least left for its pieces.
    """

    name: str
    more: int
    at_most: int
    bottleneck: str


def headroom(problem: Problem, plan: Plan, sets: tuple[str, ...] | None = None) -> tuple[Headroom, ...]:
    """
    Headroom of each set that still has pieces to cut, in the problem's order, each on its own.

    sets : only these; all when None. The problem's limits are the limits of the whole call.
    """
    members: dict[str, list[int]] = {}
    for number, demand in enumerate(problem.demands):
        if demand.count:
            members.setdefault(demand.set_key, []).append(number)
    watch = Watch(problem.limits)
    return tuple(
        _headroom(problem, plan, key, rows, watch.over) for key, rows in members.items() if sets is None or key in sets
    )


def _headroom(problem: Problem, plan: Plan, name: str, rows: list[int], over: Callable[[], bool]) -> Headroom:
    if plan.unmet:
        return Headroom(name, 0, 0, SHORT)
    core = build_core(problem)
    pieces = pieces_of(problem, plan.loads)
    moving = [row for row in rows if core.counts[row]]
    if not moving:
        return Headroom(name, 0, 0, FROZEN)
    mask = np.zeros(len(core.lengths), dtype=np.int64)
    mask[moving] = 1
    at_most, bottleneck = _at_most(core, mask)
    low, best = 0, pieces
    high = at_most
    while low < high and not over():
        middle = (low + high + 1) // 2
        found = _pack(core, best, mask * middle, over)
        if found is None:
            high = middle - 1
        else:
            low, best = middle, found
    if low < at_most:
        bottleneck = _tightest(problem, core, best, mask, low)
    return Headroom(name, low, at_most, bottleneck)


def _at_most(core: Core, mask: Ints) -> tuple[int, str]:
    """Return what the longest reel and the total length allow, without a plan."""
    count = int(core.counts @ mask)
    longest = int(core.capacity.max(initial=0)) - int((core.lengths * mask).max())
    # A longer piece can make other sums than today's, so the reels count with all their length.
    room = int(core.capacity.sum()) - int(core.lengths @ core.counts)
    total = room // count
    return (max(0, total), TOTAL) if total <= longest else (max(0, longest), LONGEST)


def _pack(core: Core, pieces: Ints, extra: Ints, over: Callable[[], bool]) -> Ints | None:
    """Pieces that cut everything with lengths longer by `extra`, starting from a plan; None if not found."""
    longer = replace(core, lengths=core.lengths + extra, penalty=core.lengths + extra)
    start = pieces.copy()
    for reel in np.flatnonzero(start @ longer.lengths > core.capacity).tolist():
        # Take off the pieces that grew until the rest fits.
        for demand in sorted(np.flatnonzero(start[reel] * (extra > 0)).tolist(), key=lambda i: (longer.lengths[i], i)):
            excess = int(start[reel] @ longer.lengths - core.capacity[reel])
            if excess <= 0:
                break
            start[reel, demand] -= min(int(start[reel, demand]), -(-excess // int(longer.lengths[demand])))
    state = Draft(longer, start)
    Local(state, over).place_missing()
    return None if state.missing.any() else state.pieces


def _tightest(problem: Problem, core: Core, pieces: Ints, mask: Ints, more: int) -> str:
    """Return the reel with the least left for each of the pieces that grow."""
    ends = core.capacity - pieces @ (core.lengths + mask * more)
    growing = pieces @ mask
    reels = np.flatnonzero(growing)
    tightest = min(reels.tolist(), key=lambda reel: (ends[reel] / growing[reel], reel))
    return problem.reels[tightest].id
