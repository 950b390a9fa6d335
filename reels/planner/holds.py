"""Whether a plan that was made earlier still holds: the one answer that plan pages, crew and shortages go by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping


def still_holds(to_cut: Iterable[tuple[str, int]], reels: Mapping[str, int]) -> bool:
    """
    Return whether each reel can still give what is left of its share: a plan is followed as long as it can be.

    to_cut : the reel of each length of the plan that is still open, by its tag, and the length as it is needed now.
    reels : what may be cut off each reel that counts, in the same unit. What else changed, a reel that came or what is
    worth keeping, makes a plan stale, not impossible.
    """
    wanted: Counter[str] = Counter()
    for tag, length in to_cut:
        wanted[tag] += length
    return all(total <= reels.get(tag, 0) for tag, total in wanted.items())
