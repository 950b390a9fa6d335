"""
Which reels of a cable are still to be ordered, once those on order are taken off.

A reel stands in for shorter ones that are no longer together: what would have come off them comes off it. Lengths are
ticks of a millimetre.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from kits.shortages.reckon.lines import CableWare, ReelsOnOrder

Reels = tuple[tuple[int, int], ...]  # (length, count), longest first


def still_to_come(ordered: Sequence[ReelsOnOrder], arrived: Iterable[int]) -> tuple[ReelsOnOrder, ...]:
    """
    Return what is still to come of one order's reels of a cable.

    arrived : lengths of the reels that came against it, or are on the way. Each closes one of the length nearest to its
    own, the longer one where two are as near: makers deliver a few per cent more or less than was ordered.
    """
    open_ = list(ordered)
    for length in sorted(arrived, reverse=True):
        left = [place for place, line in enumerate(open_) if line.count > 0]
        if not left:
            break
        nearest = min(left, key=lambda place: (abs(open_[place].length - length), -open_[place].length))
        open_[nearest] = replace(open_[nearest], count=open_[nearest].count - 1)
    return tuple(line for line in open_ if line.count > 0)


def still_to_order(buy: Iterable[tuple[int, int]], on_order: Iterable[ReelsOnOrder]) -> Reels:
    """
    Return what to buy less what is on order, reel by reel: first equal lengths, then longer ones for shorter.

    buy : (length, count), as a cut plan wants it.

    >>> still_to_order([(1000, 2), (500, 3)], [ReelsOnOrder("PO-1", 1000, 1), ReelsOnOrder("PO-2", 1600, 1)])
    ((500, 2),)
    """
    wanted: list[int] = sorted((length for length, count in buy for _ in range(count)), reverse=True)
    coming = sorted((line.length for line in on_order for _ in range(line.count)), reverse=True)
    others = []
    for length in coming:
        if length in wanted:
            wanted.remove(length)
        else:
            others.append(length)
    for room in others:
        for length in list(wanted):
            if length <= room:
                wanted.remove(length)
                room -= length
    return _counted(wanted)


def to_order(reels: Reels, ware: CableWare | None) -> Reels:
    """
    Return what to order: these reels, and the shortest that is sold until the supplier takes the order.

    >>> to_order(((1000, 1),), CableWare(1, sold=(500, 1000), least=1600))
    ((1000, 1), (500, 2))
    """
    if ware is None or not reels or not ware.sold:
        return reels
    missing = ware.least - sum(length * count for length, count in reels)
    shortest = min(ware.sold)
    more = max(0, -(-missing // shortest))
    return _counted([*(length for length, count in reels for _ in range(count)), *[shortest] * more])


def _counted(lengths: Iterable[int]) -> Reels:
    found = list(lengths)
    return tuple((length, found.count(length)) for length in sorted(set(found), reverse=True))
