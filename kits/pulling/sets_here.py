"""
Which sets can be pulled with what is here, and what the others lack. Pure: no Django.

Of material and lengths only: whether work may begin is for those to say who give permits.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from kits.shortages.reckon.arrivals import StageLine
from kits.shortages.reckon.readiness import CABLES, NO_TAKEOFF
from kits.shortages.told.of_stage import lacks_in_words

NOT_MEASURED = "a length: drawn, not measured"


@dataclass(frozen=True, slots=True)
class SetToPull:
    """The cables of a run. but_for : what is not here or not known yet, in words; empty where all is here."""

    run_id: int
    run: str
    planned: date | None
    but_for: tuple[str, ...]

    @property
    def all_here(self) -> bool:
        """Whether nothing is missing for pulling it."""
        return not self.but_for


def sets_to_pull(lines: Iterable[StageLine], to_the_drawing: frozenset[int] = frozenset()) -> tuple[SetToPull, ...]:
    """
    Return the sets whose cables are not in yet: those with everything here first, each part by day, undated last.

    to_the_drawing : runs that a planner lets be cut unmeasured.
    """
    found = [
        SetToPull(line.row.run_id, line.row.run, line.row.planned, _but_for(line, to_the_drawing))
        for line in lines
        if line.row.stage == CABLES and not line.row.done and not line.row.idle
    ]
    return tuple(
        sorted(found, key=lambda one: (not one.all_here, one.planned is None, one.planned or date.max, one.run))
    )


def _but_for(line: StageLine, to_the_drawing: frozenset[int]) -> tuple[str, ...]:
    told = ["a takeoff" if one == NO_TAKEOFF else f"the {one}, not done" for one in line.row.blocked_by]
    if line.row.unmeasured and line.row.run_id not in to_the_drawing:
        told.append(NOT_MEASURED)
    lengths = [lack.missing for lack in line.lacks if lack.is_cable]
    none = sum(not one.waits_for for one in lengths)
    if none:
        told.append(f"{none} length{'s' * (none > 1)} of cable that no reel here gives")
    for reel in sorted({one.waits_for for one in lengths if one.waits_for}):
        count = sum(one.waits_for == reel for one in lengths)
        told.append(f"{count} length{'s' * (count > 1)} of cable off {reel}, on the way")
    items = [lack for lack in line.lacks if not lack.is_cable]
    if items:
        told.append(lacks_in_words(items))
    return tuple(told)
