"""What the list of runs answers first: for how many the next stage is all here. Pure: no Django."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kits.shortages.reckon.arrivals import StageLine
from kits.shortages.reckon.readiness import NO_TAKEOFF
from kits.shortages.told.of_stage import next_of


@dataclass(frozen=True, slots=True)
class RunFigures:
    """How many runs are done, have all of their next stage here, lack something of it, or have no takeoff yet."""

    done: int
    here: int
    lacking: int
    unknown: int


def by_run(lines: Iterable[StageLine]) -> Mapping[int, list[StageLine]]:
    """Return the stages of each run by its key, in their order."""
    found: dict[int, list[StageLine]] = defaultdict(list)
    for line in lines:
        found[line.row.run_id].append(line)
    return found


def run_figures(runs: Iterable[Sequence[StageLine]]) -> RunFigures:
    """Return how many runs stand how, by the first stage that is not done."""
    done = here = lacking = unknown = 0
    for line in map(next_of, runs):
        if line is None:
            done += 1
        elif line.lacks:
            lacking += 1
        elif NO_TAKEOFF in line.row.blocked_by:
            unknown += 1
        else:
            here += 1
    return RunFigures(done, here, lacking, unknown)
