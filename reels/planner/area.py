"""
Bounds that need no solver: what the reels can hold at most, added up.

The most that can come off one reel is the greatest sum of pieces not above its length (subset sum by bit set),
which is tighter than the length itself.
"""

from dataclasses import dataclass

import numpy as np

from reels.planner.core import Core, Ints

# Reels longer than this count with all their length: the set of all sums would take longer than it is worth. [units]
MOST_REACH = 50_000_000


@dataclass(frozen=True)
class Holdings:
    """holds : the most that can be cut from each reel, by itself. [units]"""

    holds: Ints

    @property
    def total(self) -> int:
        """The most that all reels together can give. [units]"""
        return int(self.holds.sum())


def holdings(core: Core) -> Holdings:
    """Return what each reel can give at most, if the pieces were its alone."""
    longest = int(core.capacity.max(initial=0))
    if longest > MOST_REACH:
        return Holdings(core.capacity.copy())
    if longest == 0:
        return Holdings(np.zeros(len(core.capacity), dtype=np.int64))
    mask = (1 << (longest + 1)) - 1
    reach = 1
    for length, count in zip(core.lengths.tolist(), core.counts.tolist(), strict=True):
        left = min(count, longest // length)
        step = 1
        while left > 0:
            part = min(step, left)
            reach |= (reach << (part * length)) & mask
            left -= part
            step *= 2
    return Holdings(np.array([_greatest_bit(reach, int(cap)) for cap in core.capacity], dtype=np.int64))


def _greatest_bit(reach: int, cap: int) -> int:
    return (reach & ((1 << (cap + 1)) - 1)).bit_length() - 1


def fewest_whole(core: Core, held: Holdings, needed: int) -> int:
    """Least number of whole reels that, with all other reels, could give `needed`. [units] -> reels"""
    have = int(held.holds[~core.whole].sum())
    count = 0
    for give in sorted(held.holds[core.whole].tolist(), reverse=True):
        if have >= needed:
            break
        have += give
        count += 1
    return count


def least_unmet(core: Core, held: Holdings, worth: Ints) -> int:
    """
    Least total of worth times length that stays uncut, the cheapest length being given up first.

    worth : per unit of each demand. A demand longer than every reel is given up whatever it is worth.
    """
    longest = int(core.capacity.max(initial=0))
    lost = 0
    wanted = []
    for length, count, each in zip(core.lengths.tolist(), core.counts.tolist(), worth.tolist(), strict=True):
        pieces = pieces_that_fit(core, length) if length <= longest else 0
        lost += max(0, count - pieces) * length * each
        wanted.append((each, length * min(count, pieces)))
    short = sum(total for _, total in wanted) - held.total
    for each, total in sorted(wanted):
        if short <= 0:
            break
        given = min(short, total)
        lost += given * each
        short -= given
    return lost


def pieces_that_fit(core: Core, length: int) -> int:
    """How many pieces of one length all reels could give if nothing else were cut."""
    return int((core.capacity // length).sum())


def fewest_setups(core: Core) -> int:
    """
    Least number of set-ups when everything is cut, beyond the frozen ones.

    Each run needs at least as many reels as its longest-held demand; a run already set up somewhere by frozen
    pieces is not counted.
    """
    frozen = frozenset().union(*core.frozen_runs) if core.frozen_runs else frozenset()
    total = 0
    for run in dict.fromkeys(core.runs.tolist()):
        if run in frozen:
            continue
        members = np.flatnonzero((core.runs == run) & (core.counts > 0))
        total += max((_fewest_reels(core, int(i)) for i in members), default=0)
    return total


def _fewest_reels(core: Core, demand: int) -> int:
    left = int(core.counts[demand])
    for number, pieces in enumerate(sorted((core.capacity // core.lengths[demand]).tolist(), reverse=True), 1):
        left -= pieces
        if left <= 0:
            return number
    return len(core.capacity)
