"""
Exact finish for few stock lengths: all patterns that a plan of a given cost may use, then the problem on just those.

A plan of cost T uses only patterns whose reduced cost, under any duals with bound LB, is at most T - LB (reduced-cost
fixing: V. L. de Lima, M. Iori, F. K. Miyazawa (2022), Mathematical Programming 197). They are listed layer by layer
with the knapsack value of the remaining demands as the test; only patterns with no room for another piece are kept,
because rows may be exceeded and a plan trimmed. If the problem on them has no solution, no plan costs T.
"""

from collections.abc import Callable

import numpy as np

from reels.planner.relaxation.highs import solve_mip
from reels.planner.relaxation.pricing import Floats, Ints

SLACK = 1e-6


def list_patterns(
    lengths: Ints,
    counts: Ints,
    capacity: int,
    openings: list[float],
    duals: list[Floats],
    gaps: list[float],
    most: int,
    over: Callable[[], bool],
) -> Ints | None:
    """
    Every full pattern of one stock length whose reduced cost is within the gap under each of the duals.

    openings : cost of the stock length, plus what the duals charge for its limit, for each of the duals.
    lengths : longest first. duals, gaps : the first pair guides the listing, the others filter.
    Returns pieces [pattern, demand], or None when there are more than `most` or time is over.
    """
    number = len(lengths)
    after = _knapsack_values(lengths, counts, capacity, duals[0])
    least = openings[0] - gaps[0] - SLACK  # a pattern needs at least this dual value
    room = np.array([capacity], dtype=np.int64)
    value = np.zeros(1)
    steps: list[tuple[Ints, Ints]] = []
    for demand in range(number):
        if over():
            return None
        if not len(room):
            return np.zeros((0, number), dtype=np.int64)
        length, worth = int(lengths[demand]), float(duals[0][demand])
        copies = min(int(counts[demand]), capacity // length)
        parents, taken, rooms, values = [], [], [], []
        for copy in range(copies + 1):
            left = room - copy * length
            fits = np.flatnonzero(left >= 0)
            if not len(fits):
                break
            reach = value[fits] + copy * worth
            good = reach + after[demand + 1][left[fits]] >= least
            fits = fits[good]
            parents.append(fits)
            taken.append(np.full(len(fits), copy, dtype=np.int64))
            rooms.append(left[fits])
            values.append(reach[good])
        room, value = np.concatenate(rooms), np.concatenate(values)
        steps.append((np.concatenate(parents), np.concatenate(taken)))
        if len(room) > 3 * most:
            return None
    patterns = np.zeros((len(room), number), dtype=np.int16)
    index = np.arange(len(room))
    for demand in range(number - 1, -1, -1):
        parent, copies_taken = steps[demand]
        patterns[:, demand] = copies_taken[index]
        index = parent[index]
    keep = np.ones(len(room), dtype=bool)
    for demand in range(number):
        keep &= (room < lengths[demand]) | (patterns[:, demand] >= counts[demand])
    patterns = patterns[keep]
    for opening, others, gap in zip(openings[1:], duals[1:], gaps[1:], strict=True):
        patterns = patterns[opening - patterns @ others <= gap + SLACK]
    return patterns.astype(np.int64) if len(patterns) <= most else None


def _knapsack_values(lengths: Ints, counts: Ints, capacity: int, duals: Floats) -> list[Floats]:
    """values[i][u]: best dual value of demands i and later in at most u units."""
    values = [np.zeros(capacity + 1)]
    for demand in range(len(lengths) - 1, -1, -1):
        value = values[-1].copy()
        left, step = min(int(counts[demand]), capacity // int(lengths[demand])), 1
        while left > 0:
            copies = min(step, left)
            size = copies * int(lengths[demand])
            value[size:] = np.maximum(value[size:], value[:-size] + copies * duals[demand])
            left -= copies
            step *= 2
        values.append(value)
    return values[::-1]


def choose_patterns(
    patterns: Ints,
    costs: Floats,
    kinds: Ints,
    counts: Ints,
    available: Ints,
    target: float,
    seconds: float,
    nodes: int,
) -> tuple[Ints | None, bool]:
    """
    How often to use each pattern so that everything is cut, at least cost; the search ends at a cost of `target`.

    Returns the times (None when nothing was found) and whether no choice of these patterns reaches the target.
    """
    rows = []
    for demand, count in enumerate(counts.tolist()):
        using = np.flatnonzero(patterns[:, demand]).astype(np.int32)
        if count and not len(using):
            return None, True
        rows.append((using, patterns[using, demand].astype(float), float(count), np.inf))
    for kind, number in enumerate(available.tolist()):
        using = np.flatnonzero(kinds == kind).astype(np.int32)
        rows.append((using, np.ones(len(using)), -np.inf, float(number)))
    upper = np.full(len(patterns), float(counts.sum()))
    integer = np.ones(len(patterns), dtype=bool)
    answer = solve_mip(costs, upper, integer, rows, seconds, nodes, target=target + SLACK)
    impossible = answer.infeasible or answer.bound > target + SLACK
    if answer.values is None:
        return None, impossible
    times = np.rint(answer.values).astype(np.int64)
    return (times if (times @ patterns >= counts).all() else None), impossible
