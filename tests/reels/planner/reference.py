"""
The best possible levels of small problems, by ways that share nothing with the planner.

`best_by_milp` chooses one of all patterns of each reel with SciPy's HiGHS-free formulation of set partitioning;
`best_by_listing` walks the reels and keeps every combination of missing pieces with its best value.
"""

import itertools
from collections.abc import Callable

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from reels.planner.problem import Problem, StockReel


def patterns(problem: Problem, reel: StockReel) -> list[tuple[int, ...]]:
    """Every way to cut a reel, its frozen pieces always included."""
    frozen = dict(reel.frozen)
    ranges = [range(frozen.get(d.id, 0), min(d.count, reel.usable // d.length) + 1) for d in problem.demands]
    lengths = [d.length for d in problem.demands]
    return [
        row
        for row in itertools.product(*ranges)
        if sum(q * n for q, n in zip(row, lengths, strict=True)) <= reel.usable
    ]


def pattern_levels(problem: Problem, reel: StockReel, row: tuple[int, ...]) -> tuple[int, int, int, int]:
    """Scrap, whole reels, remnants and set-ups of one cut reel."""
    if not any(row):
        return (0, 0, 0, 0)
    end = reel.usable - sum(q * d.length for q, d in zip(row, problem.demands, strict=True))
    runs = {d.run_key for q, d in zip(row, problem.demands, strict=True) if q}
    return (end if end < problem.keep else 0, int(reel.whole), int(end >= problem.keep), len(runs))


def missing_levels(problem: Problem, missing: tuple[int, ...]) -> tuple[tuple[int, ...], int, int]:
    """Incomplete sets by date class, weighted length and length that stay uncut."""
    pairs = list(zip(missing, problem.demands, strict=True))
    incomplete = {d.set_key for q, d in pairs if q}
    classes = [problem.set_classes[key] for key in incomplete]
    return (
        tuple(classes.count(each) for each in problem.date_classes),
        sum(q * d.length * d.weight for q, d in pairs),
        sum(q * d.length for q, d in pairs),
    )


def best_by_listing(
    problem: Problem, value: Callable[[tuple[int, int, int, int]], object], add: Callable[[object, object], object]
) -> dict[tuple[int, ...], object]:
    """For every combination of missing pieces that can be left, the least total value of the reels."""
    zero = value((0, 0, 0, 0))
    states: dict[tuple[int, ...], object] = {tuple(d.count for d in problem.demands): zero}
    for reel in problem.reels:
        options = [(row, value(pattern_levels(problem, reel, row))) for row in patterns(problem, reel)]
        after: dict[tuple[int, ...], object] = {}
        for missing, so_far in states.items():
            for row, own in options:
                left = tuple(m - q for m, q in zip(missing, row, strict=True))
                if min(left) < 0:
                    continue
                total = add(so_far, own)
                if left not in after or total < after[left]:
                    after[left] = total
        states = after
    return states


def best_by_milp(problem: Problem, weights: tuple[float, float, float, float]) -> float | None:
    """Least weighted sum of the levels when everything is cut; None when it cannot be."""
    columns = [(r, row) for r, reel in enumerate(problem.reels) for row in patterns(problem, reel)]
    cost = np.array(
        [
            sum(w * v for w, v in zip(weights, pattern_levels(problem, problem.reels[r], row), strict=True))
            for r, row in columns
        ]
    )
    one = np.zeros((len(problem.reels), len(columns)))
    for column, (r, _) in enumerate(columns):
        one[r, column] = 1
    cut = np.array([row for _, row in columns], dtype=float).T
    counts = np.array([d.count for d in problem.demands], dtype=float)
    result = milp(
        cost,
        constraints=[LinearConstraint(one, 1, 1), LinearConstraint(cut, counts, counts)],
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    return None if result.status == 2 else float(result.fun)
