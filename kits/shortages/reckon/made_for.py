"""
What is made for runs: pieces that fit some runs and no others. Pure.

Which runs a piece fits is a set of their keys: empty where nobody has said, so that it serves nobody yet.
"""

from __future__ import annotations

from collections.abc import Iterable

Runs = frozenset[int]


def groups(runs: Iterable[int], fits: Iterable[Runs]) -> list[Runs]:
    """
    Return the runs that are reckoned together, each group by its least key: those that share a piece are one group.

    runs : those that need some. fits : of each piece, the runs that it fits.
    """
    found: list[Runs] = []
    for one in (*(frozenset([run]) for run in runs), *filter(None, fits)):
        meets = [group for group in found if group & one]
        found = [group for group in found if not group & one] + [one.union(*meets)]
    return sorted(found, key=min)
