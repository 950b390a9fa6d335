"""
The problem as arrays, one row per demand and one per reel, and the plan as a matrix of pieces.

Frozen pieces are taken off the reels and the demands here, so nothing above has to know of them. Costs are whole
numbers: at rates the exact cost on a common denominator, in the strict order weights that rank the levels for a
handful of reels at a time (`Core.rank` compares whole plans exactly).
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reels.planner.problem import Problem

Ints = NDArray[np.int64]

# Strict order: each weight exceeds all that the lower levels can sum to on the reels of one neighbourhood.
STRICT_WEIGHTS = (100_000, 10_000, 500, 1)


@dataclass(frozen=True)
class Core:
    """
    A problem as arrays.

    lengths, counts, penalty, runs : per demand; penalty is what one uncut piece costs, ranked before all else.
    capacity, whole, started : per reel; `whole` if opening it costs, `started` if frozen pieces opened it already.
    frozen_runs : per reel, the runs (by number) that are set up on it anyway.
    weights : cost of a unit of scrap, a whole reel, a remnant, a set-up.
    """

    lengths: Ints
    counts: Ints
    penalty: Ints
    runs: Ints
    capacity: Ints
    whole: NDArray[np.bool_]
    started: NDArray[np.bool_]
    frozen_runs: tuple[frozenset[int], ...]
    keep: int
    weights: tuple[int, int, int, int]
    strict: bool

    def end_cost(self, ends: Ints) -> Ints:
        """Cost of end pieces on reels that are cut: scrap or remnant."""
        scrap, _, remnant, _ = self.weights
        return np.where(ends >= self.keep, remnant, ends * scrap)

    def setups(self, reel: int, row: Ints) -> int:
        """Set-ups that these pieces need on a reel, beyond its frozen ones."""
        runs = {int(run) for run in self.runs[row > 0]}
        return len(runs - self.frozen_runs[reel])

    def reel_cost(self, reel: int, row: Ints) -> int:
        """Cost of cutting these pieces from a reel; an untouched reel costs nothing."""
        if not self.started[reel] and not row.any():
            return 0
        end = int(self.capacity[reel] - row @ self.lengths)
        scrap, whole, remnant, setup = self.weights
        cost = remnant if end >= self.keep else scrap * end
        return cost + whole * int(self.whole[reel]) + setup * self.setups(reel, row)

    def levels(self, pieces: Ints) -> tuple[int, int, int, int]:
        """Scrap, whole reels opened, remnants and set-ups of a matrix [reels, demands] of pieces."""
        cut = (pieces.sum(axis=1) > 0) | self.started
        ends = self.capacity - pieces @ self.lengths
        scrap = int(ends[cut & (ends < self.keep)].sum())
        remnants = int((cut & (ends >= self.keep)).sum())
        setups = sum(self.setups(reel, pieces[reel]) for reel in np.flatnonzero(cut).tolist())
        return scrap, int((cut & self.whole).sum()), remnants, setups

    def unmet_cost(self, pieces: Ints) -> int:
        """Penalty of what the matrix leaves uncut."""
        return int((self.counts - pieces.sum(axis=0)) @ self.penalty)

    def rank(self, pieces: Ints) -> tuple[int, ...]:
        """Return what two plans are compared by: the smaller tuple is the better plan."""
        levels = self.levels(pieces)
        unmet = self.unmet_cost(pieces)
        if self.strict:
            return (unmet, *levels)
        return (unmet, sum(w * level for w, level in zip(self.weights, levels, strict=True)), *levels)

    def only(self, allowed: NDArray[np.bool_]) -> "Core":
        """Return the same core without the reels outside the mask; reels keep their numbers."""
        return replace(self, capacity=np.where(allowed | self.started, self.capacity, 0))

    def with_penalty(self, penalty: Ints) -> "Core":
        """Return the same core with other penalties."""
        return replace(self, penalty=penalty)


def cost_weights(problem: Problem) -> tuple[tuple[int, int, int, int], int]:
    """Whole-number weights of the levels, and how many of them make one unit of scrap."""
    return (STRICT_WEIGHTS, STRICT_WEIGHTS[0]) if problem.strict else rate_weights(problem)


def rate_weights(problem: Problem) -> tuple[tuple[int, int, int, int], int]:
    """Weights that trade the levels at the problem's rates, and how many of them make one unit of scrap."""
    per_foot = problem.unit.per_foot
    rates = [rate * per_foot for rate in (problem.rates.whole, problem.rates.remnant, problem.rates.setup)]
    scale = math.lcm(*(rate.denominator for rate in rates))
    whole, remnant, setup = (int(rate * scale) for rate in rates)
    return (scale, whole, remnant, setup), scale


def build_core(problem: Problem) -> Core:
    """Arrays of a valid problem; penalties are the weighted lengths."""
    counts = {demand.id: demand.count for demand in problem.demands}
    lengths = {demand.id: demand.length for demand in problem.demands}
    run_of = {demand.id: demand.run_key for demand in problem.demands}
    run_number = {key: number for number, key in enumerate(dict.fromkeys(run_of.values()))}
    capacity = []
    frozen_runs = []
    for reel in problem.reels:
        left = reel.usable
        for key, pieces in reel.frozen:
            left -= pieces * lengths[key]
            counts[key] -= pieces
        capacity.append(left)
        frozen_runs.append(frozenset(run_number[run_of[key]] for key, _ in reel.frozen))
    return Core(
        lengths=np.array([demand.length for demand in problem.demands], dtype=np.int64),
        counts=np.array([counts[demand.id] for demand in problem.demands], dtype=np.int64),
        penalty=np.array([demand.weight * demand.length for demand in problem.demands], dtype=np.int64),
        runs=np.array([run_number[demand.run_key] for demand in problem.demands], dtype=np.int64),
        capacity=np.array(capacity, dtype=np.int64),
        whole=np.array([reel.whole and not reel.frozen for reel in problem.reels], dtype=bool),
        started=np.array([bool(reel.frozen) for reel in problem.reels], dtype=bool),
        frozen_runs=tuple(frozen_runs),
        keep=problem.keep,
        weights=cost_weights(problem)[0],
        strict=problem.strict,
    )
