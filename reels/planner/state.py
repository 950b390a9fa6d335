"""A plan in the making: the matrix of pieces with what every step needs to know about it at hand."""

import numpy as np

from reels.planner.core import Core, Ints


class Draft:
    """
    pieces [reels, demands], left per reel [units], missing pieces per demand, cost per reel.

    `stamp` counts the changes of each reel, so that a step can tell which reels it has seen unchanged.
    """

    def __init__(self, core: Core, pieces: Ints) -> None:
        self.core = core
        self.pieces = pieces.copy()
        self.left = core.capacity - pieces @ core.lengths
        self.missing = core.counts - pieces.sum(axis=0)
        self.cost = [core.reel_cost(reel, pieces[reel]) for reel in range(len(core.capacity))]
        self.stamp = [0] * len(core.capacity)

    def put(self, reel: int, row: Ints) -> None:
        """Give a reel these pieces instead of its own."""
        core = self.core
        self.missing += self.pieces[reel] - row
        self.pieces[reel] = row
        self.left[reel] = core.capacity[reel] - row @ core.lengths
        self.cost[reel] = core.reel_cost(reel, row)
        self.stamp[reel] += 1

    @property
    def used(self) -> np.ndarray:
        """Mask of the reels that are cut."""
        return (self.left < self.core.capacity) | self.core.started

    def rank(self) -> tuple[int, ...]:
        """See `Core.rank`."""
        return self.core.rank(self.pieces)
