"""
A quick answer to how much longer the cuts of a run could be, while the cuts of all others stay where a plan has them.

It is proven by an arrangement that was found, so it is never too much, and it takes no search: a page can give it for
every run at once. `headroom` looks harder, moving other cuts as well. Lengths are units of the planning grid.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reels.planner.headroom.bisection import LONGEST, TOTAL, Headroom


@dataclass(frozen=True, slots=True)
class PlannedReels:
    """
    The reels of one cable with a plan that cuts everything.

    usable : what may be cut from each reel, by its tag. cuts : by tag, run and length of each cut still to be made.
    """

    usable: Mapping[str, int]
    cuts: Mapping[str, Sequence[tuple[str, int]]]

    @property
    def spare(self) -> int:
        """Cable beyond all that is needed."""
        return sum(self.usable.values()) - sum(length for cuts in self.cuts.values() for _, length in cuts)


def run_stretch(yard: PlannedReels, run: str) -> Headroom:
    """
    Return how much longer every cut of a run could be: its own cuts may move to any reel, all others stay.

    Raises ValueError for a run of which nothing is planned, and for a plan whose reels do not hold their cuts.
    """
    planned = {tag: [length for of, length in cuts if of == run] for tag, cuts in yard.cuts.items()}
    planned = {tag: lengths for tag, lengths in planned.items() if lengths}
    lengths = sorted((length for of_reel in planned.values() for length in of_reel), reverse=True)
    if not lengths:
        raise ValueError(f"nothing of {run} is planned")
    room = {
        tag: usable - sum(length for of, length in yard.cuts.get(tag, ()) if of != run)
        for tag, usable in yard.usable.items()
    }
    total, longest = yard.spare // len(lengths), max(yard.usable.values(), default=0) - lengths[0]
    low, high = 0, min(total, longest) + 1
    found = _arranged(planned, lengths, room, 0)
    if found is None or high < 1:
        raise ValueError("a reel does not hold its cuts")
    while high - low > 1:
        middle = (low + high) // 2
        tried = _arranged(planned, lengths, room, middle)
        low, high, found = (middle, high, tried) if tried is not None else (low, middle, found)
    at_most = min(total, longest)
    if low == at_most:
        return Headroom(run, low, at_most, TOTAL if total <= longest else LONGEST)
    tightest = min(found, key=lambda tag: ((room[tag] - sum(found[tag])) / len(found[tag]), tag))
    return Headroom(run, low, at_most, tightest)


def cable_stretch(yard: PlannedReels) -> Headroom:
    """
    Return how much longer all cuts could be at once, each on its reel.

    Raises ValueError when nothing is planned or a reel does not hold its cuts.
    """
    each = {
        tag: (yard.usable.get(tag, 0) - sum(length for _, length in cuts)) // len(cuts)
        for tag, cuts in yard.cuts.items()
        if cuts
    }
    if not each:
        raise ValueError("nothing is planned")
    tightest = min(each, key=lambda tag: (each[tag], tag))
    if each[tightest] < 0:
        raise ValueError("a reel does not hold its cuts")
    lengths = [length for cuts in yard.cuts.values() for _, length in cuts]
    total, longest = yard.spare // len(lengths), max(yard.usable.values()) - max(lengths)
    at_most = min(total, longest)
    why = tightest if each[tightest] < at_most else TOTAL if total <= longest else LONGEST
    return Headroom("", each[tightest], at_most, why)


def _arranged(
    planned: Mapping[str, Sequence[int]], lengths: Sequence[int], room: Mapping[str, int], extra: int
) -> dict[str, list[int]] | None:
    """
    Return lengths by reel, each longer by `extra`, or None when none was found.

    As planned where that fits; else longest first, each into the reel that it leaves least of. For equal lengths that
    finds an arrangement whenever there is one: a reel always takes as many as it holds.
    """
    if all(sum(cuts) + extra * len(cuts) <= room.get(tag, 0) for tag, cuts in planned.items()):
        return {tag: [length + extra for length in cuts] for tag, cuts in planned.items()}
    free = sorted((size, tag) for tag, size in room.items())
    found: dict[str, list[int]] = {}
    for length in lengths:
        place = bisect_left(free, (length + extra, ""))
        if place == len(free):
            return None
        size, tag = free.pop(place)
        found.setdefault(tag, []).append(length + extra)
        insort(free, (size - length - extra, tag))
    return found
