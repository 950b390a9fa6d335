"""Which lines of a packing list a count answers. Pure; quantities in whole ticks of the item's unit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(slots=True)
class ListedLine:
    """A line of a packing list and what was counted for it so far."""

    pk: int
    item: int
    package: int | None
    listed: int
    counted: int = 0

    @property
    def open(self) -> int:
        """What the line still lacks."""
        return max(0, self.listed - self.counted)


def share(lines: Sequence[ListedLine], quantity: int) -> list[tuple[ListedLine, int]]:
    """
    Share what was counted among the lines of one item: each in turn what it still lacks, the last one the rest.

    Every line is named, those that get nothing with zero; the shares add up to `quantity`.
    """
    shares = []
    for line in lines:
        part = min(quantity, line.open)
        shares.append((line, part))
        quantity -= part
    if quantity and shares:
        line, part = shares[-1]
        shares[-1] = (line, part + quantity)
    return shares


def answered(lines: Iterable[ListedLine], item: int, package: int | None) -> list[ListedLine]:
    """Return the lines of an item, those of one package where one is named, in the order of the list."""
    return [line for line in lines if line.item == item and package in (None, line.package)]
