"""
Short cable on a site: which sets to complete.

Sets are tried one after the other, earliest date class first and the shortest of a class first (the order that
completes most if only the total length counts). A set stays if all its pieces find room, with pairs of reels
re-split to make it; else it is left and the next is tried.
"""

from collections.abc import Callable

import numpy as np

from reels.planner.core import Core, Ints
from reels.planner.moves.local import Local
from reels.planner.problem import Problem
from reels.planner.state import Draft


def complete_sets(problem: Problem, core: Core, over: Callable[[], bool]) -> Ints:
    """Return pieces [reels, demands] of sets that can be completed together."""
    members: dict[str, list[int]] = {}
    for number, demand in enumerate(problem.demands):
        members.setdefault(demand.set_key, []).append(number)
    total = {key: int(core.lengths[rows] @ core.counts[rows]) for key, rows in members.items()}
    classes = problem.set_classes
    state = Draft(core, np.zeros((len(core.capacity), len(core.lengths)), dtype=np.int64))
    state.missing = np.zeros_like(core.counts)
    for key in sorted(members, key=lambda each: (classes[each], total[each], each)):
        if over():
            break
        rows = members[key]
        if total[key] > int(state.left.sum()):
            continue
        before = state.pieces.copy()
        state.missing[rows] = core.counts[rows]
        Local(state, over).place_missing()
        if state.missing.any():
            state.missing[:] = 0
            for reel in np.flatnonzero((state.pieces != before).any(axis=1)).tolist():
                state.put(reel, before[reel])
            state.missing[:] = 0
    return state.pieces


def guarded(problem: Problem, core: Core, completed: list[str]) -> Core:
    """Return the core in which a piece of a completed set is worth more than all else together."""
    everything = int(core.lengths @ core.counts) + 1
    chosen = set(completed)
    factor = np.array([everything if demand.set_key in chosen else 1 for demand in problem.demands], dtype=np.int64)
    return core.with_penalty(core.lengths * factor)
