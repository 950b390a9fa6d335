"""
The relaxation of a reel problem: column generation over all reels at once, for its bound and its dives.

See `master` and `pricing` for the sources. The objective is the traded cost, or in the strict order scrap first
with whole reels, remnants and set-ups priced so low that together they never outweigh one unit of scrap.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from reels.planner.core import Core, Ints
from reels.planner.relaxation.master import Master, generate
from reels.planner.relaxation.pricing import Stock

# Largest table of the pricing programme: parts of demands times length of the longest reel.
MOST_CELLS = 300_000_000
SAFETY = 1e-6


@dataclass(frozen=True)
class Prices:
    """Objective: cost of a unit of scrap, a whole reel, a remnant, a set-up."""

    scrap: float
    whole: float
    remnant: float
    setup: float


def strict_prices(core: Core) -> Prices:
    """Scrap 1; all whole reels together below 1; all remnants, and all set-ups, far below one whole reel."""
    whole = 1.0 / (1.05 * (int(core.whole.sum()) + 1))
    return Prices(1.0, whole, whole / (5.0 * (len(core.capacity) + 1)), whole / (5.0 * (most_setups(core) + 1)))


def most_setups(core: Core) -> int:
    """No plan has more set-ups than this."""
    return min(int(core.counts.sum()), len(core.capacity) * len(set(core.runs.tolist())))


class Relaxation:
    """Reels of equal length and kind are priced together; `kind_of` says which reels a kind stands for."""

    def __init__(self, core: Core, prices: Prices) -> None:
        self.core, self.prices = core, prices
        kinds: dict[tuple[int, bool, bool], list[int]] = {}
        for reel, (capacity, whole, started) in enumerate(
            zip(core.capacity.tolist(), core.whole.tolist(), core.started.tolist(), strict=True)
        ):
            if capacity > 0:
                kinds.setdefault((capacity, whole, started), []).append(reel)
        self.reels = list(kinds.values())
        # Demands of one run stand together, so that the pricing charges its set-up once.
        self.order = np.lexsort((-core.lengths, core.runs))
        frozen = any(core.frozen_runs)
        self.stock = Stock(
            capacity=np.array([capacity for capacity, _, _ in kinds], dtype=np.int64),
            available=np.array([len(reels) for reels in self.reels], dtype=np.int64),
            opening=np.array([prices.whole * whole for _, whole, _ in kinds]),
            keep=core.keep,
            scrap=prices.scrap,
            remnant=prices.remnant,
            # A run that frozen pieces have set up already would be charged twice.
            setup=0.0 if frozen else prices.setup,
            forced=core.started[[reels[0] for reels in self.reels]] if frozen else None,
        )
        lengths = core.lengths[self.order]
        # Dropping a cut must never pay: more than any end piece, opening and set-up it could save.
        unit = 2.0 * (prices.scrap * core.keep + prices.whole + prices.remnant + prices.setup) / max(1, lengths.min())
        worth = core.penalty[self.order] / lengths
        penalty = unit * lengths * worth / max(1e-12, worth.min())
        self.master = Master(
            self.stock, lengths, core.runs[self.order], core.counts[self.order], penalty, covering=False
        )

    @staticmethod
    def cells(core: Core) -> int:
        """Size of the pricing table that a relaxation would need."""
        parts = sum(max(1, int(math.log2(count + 1)) + 1) for count in core.counts.tolist())
        return parts * (int(core.capacity.max(initial=0)) + 1)

    def add_plan(self, pieces: Ints) -> None:
        """Start from the patterns of a plan [reels, demands]."""
        for kind, reels in enumerate(self.reels):
            for reel in reels:
                row = pieces[reel][self.order]
                if row.any() or self.core.started[reel]:
                    self.master.add(kind, row)
        if self.stock.forced is not None:
            for kind in np.flatnonzero(self.stock.forced).tolist():
                self.master.add(kind, np.zeros(len(self.order), dtype=np.int64))

    def run(self, rounds: int, over: Callable[[], bool]) -> None:
        """Generate columns until the bound meets the relaxation, the rounds are used up or time is over."""

        def enough(bound: float, value: float) -> bool:
            return value - bound <= 1e-4 * max(1.0, abs(value))

        generate(self.master, rounds, over, enough)

    @property
    def bound(self) -> float:
        """No plan that cuts everything costs less. A little is taken off for rounding in floating point."""
        return self.master.bound - SAFETY * max(1.0, abs(self.master.bound))

    def spread(self, chosen: list[tuple[int, Ints]]) -> Ints:
        """Patterns by kind as pieces [reels, demands]."""
        pieces = np.zeros((len(self.core.capacity), len(self.order)), dtype=np.int64)
        free = [list(reels) for reels in self.reels]
        for kind, pattern in chosen:
            if free[kind]:
                pieces[free[kind].pop(0), self.order] = pattern
        return pieces
