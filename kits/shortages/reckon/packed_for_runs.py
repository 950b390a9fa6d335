"""What a packing list brings of what is made for runs, told apart by run. Pure."""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping
from dataclasses import replace

from kits.shortages.reckon.item import PackedLine


def shared_by_runs(line: PackedLine, ordered: MutableMapping[int | None, int]) -> Iterator[PackedLine]:
    """
    Yield a line of a packing list as parts that fit one run each, by what its order still asks for, in turn.

    ordered : how much for which run, less what earlier lines brought; what this one brings is taken off. [ticks]
    What was counted is of the first parts. What no order names a run for fits nobody yet.
    """
    listed, counted = line.listed, line.counted
    for run, asked in list(ordered.items()):
        part = min(listed, asked)
        if run is None or not part:
            continue
        there = min(counted, part)
        ordered[run] -= part
        listed, counted = listed - part, counted - there
        yield replace(line, listed=part, counted=there, fits=frozenset([run]))
    if listed or counted:
        yield replace(line, listed=listed, counted=counted, fits=frozenset())
