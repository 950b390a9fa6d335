"""
Least cost of stock lengths: column generation gives the bound, dives give plans, the exact finish decides.

See `master`, `dive` and `finish` for the sources of each.
"""

import math
from collections import Counter
from collections.abc import Callable
from fractions import Fraction

import numpy as np

from reels.planner.relaxation.dive import dive
from reels.planner.relaxation.master import Master, generate
from reels.planner.relaxation.pricing import Ints, Stock
from reels.planner.stock_lengths.finish import choose_patterns, list_patterns
from reels.planner.stock_lengths.stock_problem import (
    StockPattern,
    StockPlan,
    StockProblem,
    check_stock_plan,
    validate_stock,
)
from reels.planner.watch import Watch

MOST_PATTERNS = 40_000
SAFETY = 1e-6
MOST_NODES = 10**7
# Shares fixed in one round and numbers of last patterns chosen anew, in the turns of the dives.
DIVE_SHARES = (0.12, 0.04, 0.25)
TAILS = (20, 12, 30, 16)
TAIL_SECONDS = 3.0
StockProgress = Callable[[str, float, int | None, int], object]


def plan_stock(problem: StockProblem, progress: StockProgress | None = None) -> StockPlan:
    """
    Cut all items from stock at least cost.

    progress : called as progress(stage, elapsed, cost, bound); a true answer stops the planner.
    Raises ProblemError for a problem that contradicts itself.
    """
    validate_stock(problem)
    search = Search(problem, progress)
    search.run()
    plan = search.plan()
    check_stock_plan(problem, plan)
    return plan


class Search:
    """One search for the fewest stock lengths: what is known so far, and the stages that better it."""

    def __init__(self, problem: StockProblem, progress: StockProgress | None) -> None:
        self.problem = problem
        self.watch = Watch(
            problem.limits,
            None if progress is None else lambda stage, elapsed: progress(stage, elapsed, self.cost, self.bound),
        )
        merged: Counter[int] = Counter()
        for length, demand in problem.items:
            merged[length] += demand
        items = sorted(((length, demand) for length, demand in merged.items() if demand), reverse=True)
        divisor = math.gcd(*(length for length, _ in items)) or 1
        self.divisor = divisor
        self.lengths: Ints = np.array([length // divisor for length, _ in items], dtype=np.int64)
        self.counts: Ints = np.array([demand for _, demand in items], dtype=np.int64)
        pieces = int(self.counts.sum())
        self.kinds = [kind for kind in problem.stock if kind.available != 0 and kind.length >= divisor]
        self.stock = Stock(
            capacity=np.array([kind.length // divisor for kind in self.kinds], dtype=np.int64),
            available=np.array(
                [pieces if kind.available is None else min(pieces, kind.available) for kind in self.kinds],
                dtype=np.int64,
            ),
            opening=np.array([float(kind.cost) for kind in self.kinds]),
        )
        self.step = math.gcd(*(kind.cost for kind in self.kinds)) or 1
        self.cost: int | None = None
        self.chosen: list[tuple[int, Ints]] = []
        self.bound = 0
        self.impossible = False

    # Plans ----------------------------------------------------------------------------------------------------

    def offer(self, chosen: list[tuple[int, Ints]], stage: str) -> None:
        """Keep a choice of patterns when it cuts everything for less; what is missing is added by first fit."""
        left = self.counts.copy()
        free = self.stock.available.copy()
        trimmed = []
        for kind, pattern in chosen:
            part = np.minimum(pattern, left)
            if part.any():
                left -= part
                free[kind] -= 1
                trimmed.append((kind, part))
        added = self.first_fit(left, free)
        if added is None:
            return
        result = [(self.cheapest(kind, pattern, free), pattern) for kind, pattern in trimmed + added]
        cost = sum(self.kinds[kind].cost for kind, _ in result)
        if self.cost is None or cost < self.cost:
            self.cost, self.chosen = cost, result
            self.watch.tell(stage)

    def cheapest(self, kind: int, pattern: Ints, free: Ints) -> int:
        """Return the cheapest stock length still free that holds a pattern; it takes the place of `kind` in `free`."""
        need = int(pattern @ self.lengths)
        options = [k for k in range(len(self.kinds)) if self.stock.capacity[k] >= need and (free[k] > 0 or k == kind)]
        best = min(options, key=lambda k: (self.kinds[k].cost, k != kind, k))
        free[kind] += 1
        free[best] -= 1
        return best

    def first_fit(self, left: Ints, free: Ints) -> list[tuple[int, Ints]] | None:
        """First fit decreasing into new stock, each time of the length with the least cost per unit that fits."""
        opened: list[tuple[int, Ints, int]] = []
        order = sorted(
            range(len(self.kinds)),
            key=lambda k: (self.stock.opening[k] / self.stock.capacity[k], -self.stock.capacity[k]),
        )
        for demand in np.flatnonzero(left).tolist():
            length = int(self.lengths[demand])
            for _ in range(int(left[demand])):
                place = next((i for i, (_, _, room) in enumerate(opened) if room >= length), None)
                if place is None:
                    kind = next((k for k in order if free[k] > 0 and self.stock.capacity[k] >= length), None)
                    if kind is None:
                        return None
                    free[kind] -= 1
                    opened.append((kind, np.zeros_like(left), int(self.stock.capacity[kind])))
                    place = len(opened) - 1
                kind, pattern, room = opened[place]
                pattern[demand] += 1
                opened[place] = (kind, pattern, room - length)
        return [(kind, pattern) for kind, pattern, _ in opened]

    # Bounds ---------------------------------------------------------------------------------------------------

    def raise_bound(self, value: float) -> None:
        """Take over a bound, rounded up to a cost that stock can add up to."""
        steps = math.ceil(value / self.step - SAFETY)
        self.bound = max(self.bound, steps * self.step)

    @property
    def done(self) -> bool:
        """Whether the best plan is proven."""
        return self.cost is not None and self.cost <= self.bound

    # Stages ---------------------------------------------------------------------------------------------------

    def run(self) -> None:
        """All stages until the plan is proven or limits are reached."""
        if not len(self.lengths):
            self.cost = 0
            return
        self.offer([], "first fit")
        needed = int(self.lengths @ self.counts)
        rate = min(
            Fraction(kind.cost, int(cap))
            for kind, cap in zip(self.kinds, self.stock.capacity.tolist(), strict=True)
            if cap
        )
        self.raise_bound(float(rate * needed))
        if self.done or self.watch.over():
            return
        penalty = np.full(len(self.lengths), 2.0 * float(self.stock.opening.max()))
        master = Master(self.stock, self.lengths, np.arange(len(self.lengths)), self.counts, penalty, covering=True)
        for kind, pattern in self.chosen:
            master.add(kind, pattern)
        generate(master, self.problem.limits.rounds * 3, self.watch.over, several=8)
        self.raise_bound(master.bound)
        self.watch.tell("columns")
        if self.done or self.watch.over():
            return
        self._dive(master, None)
        if self.cost is None and self._too_little(master):
            return
        settled = True
        while settled and not self.done and not self.watch.over():
            settled = self._decide(master)
        for attempt in range(self.problem.limits.tries):
            if self.done or self.watch.over():
                return
            self._dive(master, attempt)

    def _too_little(self, master: Master) -> bool:
        """No plan yet: find any plan with all the stock there is, or learn that there is none."""
        everything = sum(kind.cost * int(each) for kind, each in zip(self.kinds, self.stock.available, strict=True))
        needed = int(self.lengths @ self.counts)
        if needed > int(self.stock.capacity @ self.stock.available) or self.bound > everything:
            self.impossible = True
            return True
        listed = self._listed(master, everything)
        if listed is not None:
            target, seconds = float(everything), self.watch.left()
            self.impossible = self._choose(*listed, self.counts, self.stock.available, target, seconds, [])
        return self.impossible

    def _dive(self, master: Master, seed: int | None) -> None:
        share = DIVE_SHARES[(seed or 0) % len(DIVE_SHARES)]
        chosen = dive(master, self.watch.over, seed=seed, share=share)
        self.offer(chosen, "dive")
        if not self.done and not self.watch.over():
            self._redo_tail(master, chosen, TAILS[(seed or 0) % len(TAILS)])

    def _redo_tail(self, master: Master, chosen: list[tuple[int, Ints]], tail: int) -> None:
        """Choose the last patterns of a dive anew, exactly, from all patterns known: a dive's end is its weak part."""
        fixed = chosen[: max(len(chosen) // 2, len(chosen) - tail)]
        left, free = self.counts.copy(), self.stock.available.copy()
        for kind, pattern in fixed:
            left -= pattern
            free[kind] -= 1
        if (left < 0).any() or (free < 0).any():
            return
        patterns = np.array(master.patterns)
        kinds = np.array(master.kinds)
        useful = np.flatnonzero((np.minimum(patterns, left) @ self.lengths) * 4 >= self.stock.capacity[kinds] * 3)
        target = self.bound - sum(self.kinds[kind].cost for kind, _ in fixed)
        self._choose(patterns[useful], kinds[useful], left, free, float(target), TAIL_SECONDS, fixed)

    def _choose(
        self,
        patterns: Ints,
        kinds: Ints,
        counts: Ints,
        free: Ints,
        target: float,
        seconds: float,
        fixed: list[tuple[int, Ints]],
    ) -> bool:
        """Complete `fixed` from these patterns; True when they cannot reach the target."""
        seconds = min(seconds, self.watch.left())
        costs = self.stock.opening[kinds]
        times, impossible = choose_patterns(patterns, costs, kinds, counts, free, target, seconds, MOST_NODES)
        if times is not None:
            picked = [(int(kinds[i]), patterns[i]) for i in np.flatnonzero(times) for _ in range(int(times[i]))]
            self.offer(fixed + picked, "exact")
        return impossible

    def _decide(self, master: Master) -> bool:
        """Find a plan at the bound, or prove that there is none and raise the bound; True when settled."""
        listed = self._listed(master, self.bound)
        if listed is None:
            return False
        target = float(self.bound)
        if self._choose(*listed, self.counts, self.stock.available, target, self.watch.left(), []):
            self.bound += self.step
            self.watch.tell("proof")
            return True
        return self.done

    def _listed(self, master: Master, target: int) -> tuple[Ints, Ints] | None:
        best = sorted(master.good_duals, key=lambda dual: -dual.bound)[:40]
        gaps = [target - dual.bound for dual in best]
        parts: list[Ints] = []
        kinds: list[Ints] = []
        for kind, capacity in enumerate(self.stock.capacity.tolist()):
            opening = float(self.stock.opening[kind])
            costs = [opening + float(dual.gains[kind]) for dual in best]
            duals = [dual.duals for dual in best]
            found = list_patterns(
                self.lengths, self.counts, capacity, costs, duals, gaps, MOST_PATTERNS, self.watch.over
            )
            if found is None:
                return None
            parts.append(found)
            kinds.append(np.full(len(found), kind))
        return np.concatenate(parts), np.concatenate(kinds)

    def plan(self) -> StockPlan:
        """Return the best plan found."""
        watch = self.watch
        stopped = (
            "impossible"
            if self.impossible
            else "proven"
            if self.done
            else "asked"
            if watch.asked
            else "time"
            if watch.timed_out
            else "finished"
        )
        patterns = None
        if self.cost is not None:
            times: Counter[tuple[int, tuple[tuple[int, int], ...]]] = Counter()
            for kind, pattern in self.chosen:
                cuts = tuple((int(self.lengths[i]) * self.divisor, int(pattern[i])) for i in np.flatnonzero(pattern))
                times[self.kinds[kind].length, cuts] += 1
            patterns = tuple(StockPattern(stock, cuts, number) for (stock, cuts), number in sorted(times.items()))
        return StockPlan(patterns, self.cost, self.bound, stopped, watch.elapsed())
