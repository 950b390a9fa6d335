"""
Counts of one item of a shipment that follow each other: which are of the same goods. Pure; quantities in whole ticks.

A count of the same goods takes the place of every earlier one that it covers, whenever each came to be known; what is
counted as further goods, or in part, adds up. Counts of one moment that say different things (so many good, so many
damaged, two lots) are one count in several rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime


@dataclass(slots=True, eq=False)
class CountMade:
    """
    One count of an item of a shipment.

    package : its key, None for a count over all packages. same : it says that it is of goods counted before; further :
    that it is of others. partial : more was to be counted. opened : False for goods that were taken as listed, not
    opened. said : what tells it from other rows of the same count (condition, what came, grade, lot). parts : what it
    covers of each packing line; under None where no list names it.
    """

    event: str
    at: datetime
    package: int | None
    said: tuple[object, ...]
    same: bool = False
    further: bool = False
    partial: bool = False
    opened: bool = True
    parts: Mapping[int | None, int] = field(default_factory=dict)

    def covers(self, other: CountMade) -> bool:
        """Return whether it is of all that `other` counted."""
        return self.package in (None, other.package)

    def meets(self, other: CountMade) -> bool:
        """Return whether both may have counted the same goods."""
        return None in (self.package, other.package) or self.package == other.package


def replaced(counts: Iterable[CountMade]) -> dict[CountMade, CountMade]:
    """Return the counts that others took the place of, each with the first that did."""
    known = list(counts)
    again = sorted((count for count in known if count.same), key=lambda count: (count.at, count.event))
    found = {}
    for count in known if again else ():
        later = (one for one in again if one.at > count.at and one.covers(count))
        if (by := next(later, None)) is not None:
            found[count] = by
    return found


def counted_before(standing: Iterable[CountMade], new: CountMade) -> list[CountMade]:
    """
    Return the finished counts that `new` would add to.

    Left out are other rows of the same count, and later ones of what is known to be further goods.
    """
    return [
        count
        for count in standing
        if not count.partial
        and count.meets(new)
        and (count.at != new.at or count.said == new.said)
        and not (count.further and count.at > new.at)
    ]


def opens(standing: Sequence[CountMade], new: CountMade) -> bool:
    """Return whether `new` counts what was only taken as listed before: then it is of the same goods."""
    before = counted_before(standing, new)
    return new.opened and bool(before) and all(not count.opened and new.covers(count) for count in before)
