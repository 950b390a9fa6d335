"""
Short cable in small problems, exactly: fewest incomplete sets class by class, then fewest feet uncut.

One mixed-integer problem with a count for each demand and reel and a yes or no for each set, solved for one level
after the other with the levels before it capped (lexicographic goal programming, as in J. P. Ignizio (1976), Goal
Programming and Extensions). For an accepted plan the last level is how many of its pieces stay where they are.
"""

import math
from dataclasses import dataclass

import numpy as np

from reels.planner.core import Core, Ints
from reels.planner.problem import Problem
from reels.planner.ranking import Ranking
from reels.planner.relaxation.highs import Floats, Solution, solve_mip
from reels.planner.watch import Watch

# Demands times reels, and sets, up to which a problem is small.
SMALL = 300
MOST_SETS = 40
# Nodes of one level: enough for nearly all of these, and few enough that the clock seldom decides.
NODES = 2_000
# Share of the time left that one level may use.
SHARE = 0.3


@dataclass(frozen=True)
class Shortfall:
    """
    What was found about the least that stays uncut.

    pieces : [reels, demands]. sets, unmet, weighted : bounds for every plan, None where nothing new is proven.
    least : the best possible `Ranking.short`, None where it is not proven.
    """

    pieces: Ints
    sets: tuple[int, ...] | None = None
    unmet: int | None = None
    weighted: int | None = None
    least: tuple[object, ...] | None = None


def is_small(problem: Problem, core: Core) -> bool:
    """Whether a problem is small enough to be solved here."""
    pairs = int((core.capacity > 0).sum()) * len(core.lengths)
    return 0 < pairs <= SMALL and len(problem.set_classes) <= MOST_SETS


def fewest_uncut(
    problem: Problem,
    core: Core,
    start: Ints,
    watch: Watch,
    floor: tuple[tuple[int, ...], int, int],
    kept: Ints | None = None,
) -> Shortfall:
    """
    Return pieces that leave the least uncut, from `start`, and what is proven on the way.

    core : the problem's own. floor : known bounds on incomplete sets, unmet and weighted unmet length.
    kept : pieces of an accepted plan [reels, demands]; as many of them as possible stay.
    """
    search = _Search(problem, core, start, watch, kept)
    found = search.by_sets(floor[0], floor[1]) if problem.unmet_by_sets else search.by_weight(floor[2])
    if kept is not None and found.least is not None:
        search.keep()
        found = Shortfall(search.best, found.sets, found.unmet, found.weighted, found.least)
    return found


class _Search:
    def __init__(self, problem: Problem, core: Core, start: Ints, watch: Watch, kept: Ints | None) -> None:
        self.problem, self.core, self.best, self.watch = problem, core, start, watch
        self.ranking = Ranking(problem, core)
        reels, demands = np.nonzero(np.minimum(core.capacity[:, None] // core.lengths, core.counts) > 0)
        self.reels, self.demands = reels, demands
        self.most: Ints = np.minimum(core.capacity[reels] // core.lengths[demands], core.counts[demands])
        self.pairs = len(reels)
        self.uncut = self.pairs + np.arange(len(core.lengths))
        self.incomplete = self.pairs + len(core.lengths) + np.arange(len(self.ranking.sets))
        self.stay = self.incomplete[-1] + 1 + np.arange(self.pairs if kept is not None else 0)
        self.kept = None if kept is None else np.minimum(kept[reels, demands], self.most)
        self.rows: list[tuple[np.ndarray, Floats, float, float]] = []
        self._write()

    def by_sets(self, floor: tuple[int, ...], least_unmet: int) -> Shortfall:
        """Solve class by class, then for length, then for length alone."""
        sets: list[int] = []
        proven = True
        for place in range(len(floor)):
            columns = self.incomplete[self.ranking.class_of == place]
            known = floor[place] if tuple(sets) == floor[:place] else 0
            bound, optimal = self._least(columns, np.ones(len(columns)), known)
            if proven:
                sets.append(bound)
            proven = proven and optimal
        bounds = (*sets, *(0 for _ in floor[len(sets) :]))
        unmet, optimal = self._least(self.uncut, self.core.lengths.astype(float), least_unmet)
        if not (proven and optimal):
            return Shortfall(self.best, bounds)
        least = self.ranking.short(self.best)
        if unmet > least_unmet:
            # The page says that no plan leaves less, so the bound must not suppose the fewest sets.
            capped, self.rows = self.rows, self.rows[: self.fixed]
            unmet, _ = self._least(self.uncut, self.core.lengths.astype(float), least_unmet, only_bound=True)
            self.rows = capped
        return Shortfall(self.best, bounds, unmet, None, least)

    def by_weight(self, floor: int) -> Shortfall:
        """Solve for the weighted length that stays uncut."""
        bound, optimal = self._least(self.uncut, self.core.penalty.astype(float), floor)
        return Shortfall(self.best, None, None, bound, self.ranking.short(self.best) if optimal else None)

    def keep(self) -> None:
        """Let as many kept pieces stay as the levels so far allow."""
        self._least(self.stay, np.full(len(self.stay), -1.0), -int(np.asarray(self.kept).sum()))

    def _least(self, columns: np.ndarray, worth: Floats, known: int, *, only_bound: bool = False) -> tuple[int, bool]:
        """
        Minimise one level and cap it there; return the bound and whether it is reached.

        known : a bound that holds already.
        """
        before = self._columns(self.best)
        reached = round(float(before[columns] @ worth))
        bound, optimal = known, reached <= known
        if not optimal and not self.watch.over():
            cost = np.zeros(len(before))
            cost[columns] = worth
            answer = self._solve(cost, before)
            found = None if answer.values is None else self._pieces(answer.values)
            if found is not None and (value := round(float(self._columns(found)[columns] @ worth))) < reached:
                reached = value
                if not only_bound:
                    self.best = found
            if answer.optimal:
                bound = max(known, reached)
            elif abs(answer.bound) < 1e20:
                bound = max(known, math.ceil(answer.bound - max(1e-3, 1e-7 * abs(answer.bound))))
            optimal = reached <= bound
        self.rows.append((columns, worth, -np.inf, float(reached)))
        return min(bound, reached), optimal

    def _solve(self, cost: Floats, start: Floats) -> Solution:
        core = self.core
        upper = np.concatenate(
            (self.most, core.counts, np.ones(len(self.incomplete)), [] if self.kept is None else self.kept)
        )
        rows = [(row[0].astype(np.int32), row[1], row[2], row[3]) for row in self.rows]
        nodes = min(NODES, self.watch.limits.nodes)
        answer = solve_mip(
            cost,
            upper,
            np.ones(len(cost), dtype=bool),
            rows,
            SHARE * self.watch.left(),
            nodes,
            start=start,
            over=self.watch.over,
        )
        self.watch.clocked |= answer.clocked
        return answer

    def _write(self) -> None:
        """Reels hold their pieces, demands are cut or uncut, sets with uncut pieces are incomplete."""
        core = self.core
        for reel in np.unique(self.reels).tolist():
            here = np.flatnonzero(self.reels == reel)
            lengths = core.lengths[self.demands[here]].astype(float)
            self.rows.append((here, lengths, -np.inf, float(core.capacity[reel])))
        for demand, count in enumerate(core.counts.tolist()):
            columns = np.append(np.flatnonzero(self.demands == demand), self.uncut[demand])
            self.rows.append((columns, np.ones(len(columns)), float(count), float(count)))
            if count:
                pair = np.array([self.uncut[demand], self.incomplete[self.ranking.set_of[demand]]])
                self.rows.append((pair, np.array([1.0, -float(count)]), -np.inf, 0.0))
        for place, stay in enumerate(self.stay.tolist()):
            self.rows.append((np.array([stay, place]), np.array([1.0, -1.0]), -np.inf, 0.0))
        self.fixed = len(self.rows)

    def _columns(self, pieces: Ints) -> Floats:
        """Return the values of all columns for pieces [reels, demands]."""
        cut = pieces[self.reels, self.demands]
        missing = self.core.counts - pieces.sum(axis=0)
        short = np.zeros(len(self.incomplete))
        short[self.ranking.set_of[missing > 0]] = 1.0
        stay = [] if self.kept is None else np.minimum(cut, self.kept)
        return np.concatenate((cut, missing, short, stay)).astype(float)

    def _pieces(self, values: Floats) -> Ints | None:
        """Return what the solver found as pieces [reels, demands], unless rounding made it wrong."""
        pieces = np.zeros_like(self.best)
        pieces[self.reels, self.demands] = np.rint(values[: self.pairs]).astype(np.int64)
        fits = (pieces @ self.core.lengths <= self.core.capacity).all()
        return pieces if fits and (pieces.sum(axis=0) <= self.core.counts).all() else None
