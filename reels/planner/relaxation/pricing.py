"""
One dynamic programme prices patterns for all reels or stock lengths at once.

value[u] is the best dual value of pieces that take exactly u units (or at most u where ends cost nothing). All
reels read their best pattern from the same array, so a thousand reels cost no more than one. Bounded knapsack by
binary parts: S. Martello, P. Toth (1990), Knapsack Problems, ch. 3; pricing as in P. C. Gilmore, R. E. Gomory
(1961, 1963), A linear programming approach to the cutting-stock problem, Operations Research 9 and 11.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Stock:
    """
    What patterns are cut from: one entry per kind of reel or stock length.

    capacity [units], available (how many), opening (cost of using one).
    keep, scrap, remnant : cost of an end piece; scrap = remnant = 0 where ends cost nothing.
    setup : cost of each run on a pattern.
    forced : kinds of which every one has an end piece, even with nothing cut (reels opened by frozen pieces).
    """

    capacity: Ints
    available: Ints
    opening: Floats
    keep: int = 1
    scrap: float = 0.0
    remnant: float = 0.0
    setup: float = 0.0
    forced: NDArray[np.bool_] | None = None

    @property
    def free_ends(self) -> bool:
        """Whether end pieces cost nothing."""
        return self.scrap == 0 and self.remnant == 0


class Pricer:
    """Prices patterns of demands with these lengths, runs and counts against any duals."""

    def __init__(self, stock: Stock, lengths: Ints, runs: Ints, counts: Ints) -> None:
        """Take a run number per demand; the demands of one run stand side by side, so that its set-up counts once."""
        self.stock = stock
        self.lengths = lengths
        longest = int(stock.capacity.max(initial=0))
        self.parts: list[tuple[int, int, int]] = []  # demand, copies, length together
        self.groups: list[tuple[int, int]] = []  # parts of one run, from and to
        previous = None
        for demand, (length, run) in enumerate(zip(lengths.tolist(), runs.tolist(), strict=True)):
            start = len(self.parts)
            left, step = min(int(counts[demand]), longest // length), 1
            while left > 0:
                copies = min(step, left)
                self.parts.append((demand, copies, copies * length))
                left -= copies
                step *= 2
            if run == previous and self.groups:
                self.groups[-1] = (self.groups[-1][0], len(self.parts))
            else:
                self.groups.append((start, len(self.parts)))
            previous = run
        self.value = np.empty(longest + 1)
        self.took = np.zeros((len(self.parts), longest + 1), dtype=bool)
        self.entered = np.zeros((len(self.groups) if stock.setup else 0, longest + 1), dtype=bool)
        self._work = np.empty(longest + 1)

    def price(self, duals: Floats) -> Floats:
        """Best value less cost of a pattern, per stock kind; what `patterns` then reads back."""
        stock, value = self.stock, self.value
        value.fill(0.0 if stock.free_ends else -np.inf)
        value[0] = 0.0
        if stock.setup:
            for number, (start, end) in enumerate(self.groups):
                inside = value - stock.setup
                self._add(inside, start, end, duals)
                np.greater(inside, value, out=self.entered[number])
                np.maximum(inside, value, out=value)
        else:
            self._add(value, 0, len(self.parts), duals)
        self.ends = self._ends()
        return value[self.ends] - self._end_cost(stock.capacity - self.ends) - stock.opening

    def _add(self, value: Floats, start: int, end: int, duals: Floats) -> None:
        for number in range(start, end):
            demand, copies, length = self.parts[number]
            worth = copies * duals[demand]
            took = self.took[number]
            took[:length] = False
            trial = self._work[: len(value) - length]
            np.add(value[:-length], worth, out=trial)
            np.greater(trial, value[length:], out=took[length:])
            np.maximum(trial, value[length:], out=value[length:])

    def _end_cost(self, ends: Ints) -> Floats:
        stock = self.stock
        return np.where(ends >= stock.keep, stock.remnant, ends * stock.scrap)

    def _ends(self) -> Ints:
        """For each stock kind the length that its best pattern takes."""
        stock, value = self.stock, self.value
        if stock.free_ends:
            return stock.capacity.copy()
        best_up_to = np.maximum.accumulate(value)
        # Where the running maximum was last raised: the length behind best_up_to.
        raised = np.zeros(len(value), dtype=np.int64)
        raised[1:] = np.where(value[1:] > best_up_to[:-1], np.arange(1, len(value)), 0)
        raised = np.maximum.accumulate(raised)
        result = np.empty_like(stock.capacity)
        for kind, capacity in enumerate(stock.capacity.tolist()):
            low = max(0, capacity - stock.keep + 1)
            window = value[low : capacity + 1] - stock.scrap * np.arange(capacity - low, -1, -1)
            best = low + int(window.argmax())
            if capacity >= stock.keep and best_up_to[capacity - stock.keep] - stock.remnant > window.max():
                best = int(raised[capacity - stock.keep])
            result[kind] = best
        return result

    def near_ends(self, kind: int, most: int) -> Ints:
        """Lengths of up to `most` good patterns for one stock kind where ends cost nothing, best first."""
        value = self.value[: int(self.stock.capacity[kind]) + 1]
        steps = np.flatnonzero(np.diff(value) > 1e-9) + 1
        return steps[::-1][:most]

    def patterns(self, taken: Ints) -> Ints:
        """Pieces [length, demand] behind value[u] for each u of `taken`."""
        left = taken.copy()
        pieces = np.zeros((len(taken), len(self.lengths)), dtype=np.int64)
        if not self.stock.setup:
            self._read(left, pieces, np.ones(len(taken), dtype=bool), 0, len(self.parts))
            return pieces
        for number in range(len(self.groups) - 1, -1, -1):
            inside = self.entered[number, left]
            if inside.any():
                self._read(left, pieces, inside, *self.groups[number])
        return pieces

    def _read(self, left: Ints, pieces: Ints, inside: NDArray[np.bool_], start: int, end: int) -> None:
        for number in range(end - 1, start - 1, -1):
            took = self.took[number, left] & inside
            if took.any():
                demand, copies, length = self.parts[number]
                pieces[took, demand] += copies
                left[took] -= length
