"""What makes one plan better than another, read from its matrix of pieces: the order that the problem asks for."""

import numpy as np

from reels.planner.core import Core, Ints
from reels.planner.plan import Levels
from reels.planner.problem import Problem


class Ranking:
    """
    The levels of any matrix [reels, demands] of pieces, frozen ones left out, and the order of two of them.

    core : the problem's own, by `build_core`.
    """

    def __init__(self, problem: Problem, core: Core) -> None:
        self.problem, self.core = problem, core
        self.sets = list(problem.set_classes)
        number = {key: place for place, key in enumerate(self.sets)}
        self.set_of: Ints = np.array([number[demand.set_key] for demand in problem.demands], dtype=np.int64)
        place_of = {each: place for place, each in enumerate(problem.date_classes)}
        self.class_of: Ints = np.array([place_of[problem.set_classes[key]] for key in self.sets], dtype=np.int64)
        self.frozen_whole = sum(reel.whole and bool(reel.frozen) for reel in problem.reels)
        self.frozen_setups = sum(len(runs) for runs in core.frozen_runs)

    def complete(self, pieces: Ints) -> list[str]:
        """Return the sets of which no piece is missing."""
        return [key for key, short in zip(self.sets, self._short_sets(pieces), strict=True) if not short]

    def short(self, pieces: Ints) -> tuple[object, ...]:
        """Return what stays uncut, in the order that the problem ranks it."""
        missing = self.core.counts - pieces.sum(axis=0)
        if self.problem.unmet_by_sets:
            return self._incomplete(pieces), int(missing @ self.core.lengths)
        return (int(missing @ self.core.penalty),)

    def of(self, pieces: Ints) -> tuple[object, ...]:
        """Return what plans are compared by: the smaller tuple is the better plan."""
        return (*self.short(pieces), *self.core.rank(pieces)[1:])

    def levels(self, pieces: Ints) -> Levels:
        """Return all levels, with what the frozen pieces add to them."""
        missing = self.core.counts - pieces.sum(axis=0)
        scrap, whole, remnants, setups = self.core.levels(pieces)
        return Levels(
            sets_incomplete=self._incomplete(pieces),
            unmet_weighted=int(missing @ self.core.penalty),
            unmet=int(missing @ self.core.lengths),
            scrap=scrap,
            whole_reels=whole + self.frozen_whole,
            remnants=remnants,
            setups=setups + self.frozen_setups,
        )

    def _short_sets(self, pieces: Ints) -> np.ndarray:
        short = np.zeros(len(self.sets), dtype=bool)
        short[self.set_of[self.core.counts > pieces.sum(axis=0)]] = True
        return short

    def _incomplete(self, pieces: Ints) -> tuple[int, ...]:
        classes = self.class_of[self._short_sets(pieces)]
        return tuple(np.bincount(classes, minlength=len(self.problem.date_classes)).tolist())
