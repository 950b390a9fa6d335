"""
Column generation: the linear relaxation over cutting patterns, its Lagrangian bound, and the patterns themselves.

P. C. Gilmore, R. E. Gomory (1961, 1963), Operations Research 9 and 11; the bound is the Lagrangian one, valid in
every round; duals are smoothed as in A. Pessoa, R. Sadykov, E. Uchoa, F. Vanderbeck (2018), INFORMS J. Computing 30.
"""

from collections.abc import Callable
from dataclasses import dataclass

import highspy
import numpy as np

from reels.planner.relaxation.highs import quiet
from reels.planner.relaxation.pricing import Floats, Ints, Pricer, Stock

# A column counts as improving when its reduced cost is below this. In units of the objective.
REDUCED = -1e-7


@dataclass(frozen=True)
class Dual:
    """Duals with the bound they prove; gains is what they charge for one of each stock kind."""

    bound: float
    duals: Floats
    gains: Floats


class Master:
    """
    The linear programme over patterns, with a column per demand for pieces that stay uncut.

    covering : rows may be exceeded (stock lengths, where a pattern may be trimmed); else they are equalities.
    penalty : cost of one uncut piece of each demand.
    """

    def __init__(self, stock: Stock, lengths: Ints, runs: Ints, counts: Ints, penalty: Floats, covering: bool) -> None:
        self.stock, self.lengths, self.runs, self.counts = stock, lengths, runs, counts.copy()
        self.penalty, self.covering = penalty, covering
        self.model = quiet()
        self.demands = len(lengths)
        for count in counts.tolist():
            self.model.addRow(count, highspy.kHighsInf if covering else count, 0, [], [])
        forced = np.zeros(len(stock.capacity), dtype=bool) if stock.forced is None else stock.forced
        self.least_use = np.where(forced, stock.available, -highspy.kHighsInf)
        for least, available in zip(self.least_use.tolist(), stock.available.tolist(), strict=True):
            self.model.addRow(least, available, 0, [], [])
        for demand, cost in enumerate(penalty.tolist()):
            self.model.addCol(cost, 0.0, highspy.kHighsInf, 1, [demand], [1.0])
        self.kinds: list[int] = []
        self.patterns: list[Ints] = []
        self.costs: list[float] = []
        self.known: dict[tuple[int, bytes], int] = {}
        self.bound = 0.0
        self.best_duals = np.zeros(self.demands)
        self.good_duals: list[Dual] = []
        self.value = np.inf
        self.pricer = Pricer(stock, lengths, runs, counts)

    def pattern_cost(self, kind: int, pattern: Ints) -> float:
        """Cost of one pattern on a stock kind."""
        stock = self.stock
        end = int(stock.capacity[kind] - pattern @ self.lengths)
        cost = stock.opening[kind] + (stock.remnant if end >= stock.keep else end * stock.scrap)
        if stock.setup:
            cost += stock.setup * len(set(self.runs[pattern > 0].tolist()))
        return float(cost)

    def add(self, kind: int, pattern: Ints) -> bool:
        """Add a pattern unless it is known; True when it was new."""
        key = (kind, pattern.tobytes())
        if key in self.known:
            return False
        rows = np.flatnonzero(pattern)
        index = np.append(rows, self.demands + kind).astype(np.int32)
        value = np.append(pattern[rows], 1).astype(float)
        cost = self.pattern_cost(kind, pattern)
        self.model.addCol(cost, 0.0, highspy.kHighsInf, len(index), index, value)
        self.known[key] = len(self.patterns)
        self.kinds.append(kind)
        self.patterns.append(pattern)
        self.costs.append(cost)
        return True

    def solve(self) -> Floats:
        """Solve the linear programme; the duals of the demands."""
        self.model.run()
        self.value = self.model.getInfo().objective_function_value
        return np.array(self.model.getSolution().row_dual)[: self.demands]

    def use(self) -> Floats:
        """How often the last solution uses each pattern."""
        return np.array(self.model.getSolution().col_value)[self.demands :]

    def restrict(self, counts: Ints, available: Ints) -> None:
        """Ask for these counts from this stock instead; for dives."""
        for row, count in enumerate(counts.tolist()):
            self.model.changeRowBounds(row, count, highspy.kHighsInf if self.covering else count)
        for row, number in enumerate(available.tolist()):
            self.model.changeRowBounds(self.demands + row, min(self.least_use[row], number), number)
        if not self.covering:
            fits = np.all(np.array(self.patterns).reshape(-1, self.demands) <= counts, axis=1)
            for column, yes in enumerate(fits.tolist(), self.demands):
                self.model.changeColBounds(column, 0.0, highspy.kHighsInf if yes else 0.0)
        self.counts = counts.copy()
        self.pricer = Pricer(self.stock, self.lengths, self.runs, counts)

    def lagrangian(self, duals: Floats, found: Floats) -> Dual:
        """Lower bound from duals and the best pattern value of each stock kind, by `Pricer.price`."""
        forced = self.stock.forced
        gains = np.maximum(found, 0.0) if forced is None else np.where(forced, found, np.maximum(found, 0.0))
        proof = Dual(float(duals @ self.counts - gains @ self.stock.available), duals, gains)
        if self.stock.free_ends:
            # Scaled down until no pattern gains, the duals are feasible themselves (A. A. Farley 1990).
            scale = max(1.0, float(((found + self.stock.opening) / self.stock.opening).max()))
            bound = float(duals @ self.counts) / scale
            if bound > proof.bound:
                proof = Dual(bound, duals / scale, np.zeros_like(gains))
        return proof


def generate(
    master: Master,
    rounds: int,
    over: Callable[[], bool],
    enough: Callable[[float, float], bool] = lambda bound, value: False,
    several: int = 1,
    prove: bool = True,
) -> None:
    """
    Add improving patterns until there are none, the rounds are used up or `enough(bound, value)` says so.

    several : patterns per stock kind and round, where ends cost nothing.
    prove : keep the best Lagrangian bound in the master (False while diving, when the demands are not the real ones).
    """
    centre = master.best_duals if prove else None
    for _ in range(rounds):
        if over():
            return
        lp_duals = np.minimum(master.solve(), master.penalty)
        if master.covering:
            lp_duals = np.maximum(lp_duals, 0.0)
        mix = 0.5
        while True:
            duals = lp_duals if centre is None or mix == 0 else mix * centre + (1 - mix) * lp_duals
            found = master.pricer.price(duals)
            if prove:
                proof = master.lagrangian(duals, found)
                master.good_duals.append(proof)
                if proof.bound > master.bound:
                    master.bound = proof.bound
                    centre = master.best_duals = proof.duals
            added = _add_found(master, lp_duals, found, several)
            if added or centre is None or mix == 0:
                break
            mix = 0.0
        if not added or enough(master.bound, master.value):
            return


def _add_found(master: Master, lp_duals: Floats, found: Floats, several: int) -> int:
    pricer, stock = master.pricer, master.stock
    kinds = np.arange(len(found))
    ends = pricer.ends[kinds]
    if several > 1 and stock.free_ends:
        near = [pricer.near_ends(kind, several) for kind in range(len(stock.capacity))]
        kinds = np.repeat(np.arange(len(near)), [len(each) for each in near])
        ends = np.concatenate(near)
    if not len(kinds):
        return 0
    added = 0
    patterns = pricer.patterns(ends)
    limit_duals = np.array(master.model.getSolution().row_dual)[master.demands :]
    for kind, pattern in zip(kinds.tolist(), patterns, strict=True):
        reduced = master.pattern_cost(kind, pattern) - float(lp_duals @ pattern) - float(limit_duals[kind])
        if reduced < REDUCED and master.add(kind, pattern):
            added += 1
    return added
