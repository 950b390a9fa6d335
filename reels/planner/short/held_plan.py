"""
Planning again: an accepted plan is changed no further than cutting more makes necessary.

What was accepted is held like frozen pieces. Only if that leaves more uncut than a free plan does are pieces let go.
A small problem is solved for the most pieces that can stay (`shortfall`). In a large one reels are let go, the fewest
first, those with most room for change before the others; then one after the other is held again.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from reels.planner.core import Ints, build_core
from reels.planner.problem import Problem, StockReel
from reels.planner.ranking import Ranking
from reels.planner.short.sets import complete_sets


def kept_pieces(problem: Problem) -> Ints:
    """Return the pieces [reels, demands] of the accepted plan, on reels and of demands that are still there."""
    place = {demand.id: number for number, demand in enumerate(problem.demands)}
    row = {reel.id: number for number, reel in enumerate(problem.reels)}
    kept: Ints = np.zeros((len(row), len(place)), dtype=np.int64)
    for assigned in problem.kept:
        if assigned.reel in row and assigned.demand in place:
            kept[row[assigned.reel], place[assigned.demand]] += assigned.pieces
    # Kept pieces may name the frozen ones again.
    kept -= np.minimum(kept, frozen_pieces(problem))
    return kept


def frozen_pieces(problem: Problem) -> Ints:
    """Return the pieces [reels, demands] that are frozen."""
    place = {demand.id: number for number, demand in enumerate(problem.demands)}
    frozen = np.zeros((len(problem.reels), len(place)), dtype=np.int64)
    for number, reel in enumerate(problem.reels):
        for key, pieces in reel.frozen:
            frozen[number, place[key]] += pieces
    return frozen


def held(problem: Problem, kept: Ints) -> Problem:
    """Return the problem with these pieces [reels, demands] frozen too; those that no longer fit are left out."""
    demands = problem.demands
    frozen = frozen_pieces(problem)
    free = np.array([demand.count for demand in demands], dtype=np.int64) - frozen.sum(axis=0)
    # What is pulled first stays.
    order = sorted(range(len(demands)), key=lambda i: (demands[i].date_class, -demands[i].length, demands[i].id))
    reels = []
    for number, reel in enumerate(problem.reels):
        room = reel.usable - sum(demands[i].length * int(frozen[number, i]) for i in np.flatnonzero(frozen[number]))
        for i in order:
            extra = min(int(kept[number, i]), int(free[i]), room // demands[i].length)
            if extra > 0:
                frozen[number, i] += extra
                free[i] -= extra
                room -= extra * demands[i].length
        pieces = ((demands[i].id, int(frozen[number, i])) for i in np.flatnonzero(frozen[number]))
        reels.append(replace(reel, frozen=tuple(sorted(pieces))))
    return replace(problem, reels=tuple(reels), kept=())


def without(kept: Ints, released: frozenset[int]) -> Ints:
    """Return the kept pieces of all but the released reels."""
    left = kept.copy()
    left[sorted(released)] = 0
    return left


def releases(problem: Problem, kept: Ints) -> Iterator[frozenset[int]]:
    """Return sets of reels to let go: none, then more and more of those with the longest end pieces, then all."""
    lengths = np.array([demand.length for demand in problem.demands], dtype=np.int64)
    total = kept @ lengths

    def room(number: int) -> int:
        return problem.reels[number].usable - int(total[number])

    ranked = sorted(np.flatnonzero(total).tolist(), key=lambda number: (-room(number), problem.reels[number].id))
    number = 0
    while number < len(ranked):
        yield frozenset(ranked[:number])
        number = max(1, number * 2)
    yield frozenset(ranked)


def hold_again(
    problem: Problem, kept: Ints, released: frozenset[int], pieces: Ints, over: Callable[[], bool]
) -> tuple[Problem, Ints]:
    """
    Hold released reels again one by one while as much is cut, then all pieces that did not move.

    pieces : what is cut [reels, demands] with these reels released, the problem's frozen pieces left out.
    Returns the problem with all of that frozen, and the pieces beside them.
    """
    least = Ranking(problem, build_core(problem)).short(pieces)
    fixed = frozen_pieces(problem)

    def room(number: int) -> tuple[int, str]:
        reel: StockReel = problem.reels[number]
        return reel.usable, reel.id

    for number in sorted(released, key=room):
        if over():
            break
        part = held(problem, without(kept, released - {number}))
        core = build_core(part)
        tried = complete_sets(part, core.with_penalty(core.lengths), over)
        if Ranking(part, core).short(tried) <= least:
            released -= {number}
            pieces = tried + frozen_pieces(part) - fixed
    return held_beside(problem, kept, pieces)


def held_beside(problem: Problem, kept: Ints, pieces: Ints) -> tuple[Problem, Ints]:
    """Return the problem with the kept ones among these pieces frozen too, and the others."""
    part = held(problem, np.minimum(kept, pieces))
    return part, pieces - (frozen_pieces(part) - frozen_pieces(problem))
