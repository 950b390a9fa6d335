"""
From exact quantities to those that count: rounded up by run or by site, shared out, overruled by the drawing package.

Pure: no Django. Quantities that count are whole ten-thousandths of an item's unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from takeoff.rules.engine.quantities import RunTakeoff
from takeoff.rules.engine.rows import STAGES
from takeoff.units.exact import SCALE


class Key(NamedTuple):
    """A line of all takeoffs of a site: run, item code, stage."""

    run: str
    item: str
    stage: str


@dataclass(frozen=True, slots=True)
class Settled:
    """
    A line as it counts. [1/10 000 of the item's unit]

    exact : before rounding [units]. computed : after it. quantity : the override where there is one, else `computed`.
    """

    exact: Fraction
    computed: int
    quantity: int


PlannedDates = Mapping[tuple[str, str], date | None]


def settle(
    takeoffs: Mapping[str, RunTakeoff], planned: PlannedDates, overrides: Mapping[Key, int] | None = None
) -> dict[Key, Settled]:
    """
    Return every line of a site's runs as it counts.

    takeoffs : all runs of the site by name; an item rounded by site needs them all.
    planned : date of a (run, stage), None or absent for undated.
    overrides : quantities that the drawing package sets, in place of computed ones; they leave the computed shares as
    they are. Pass them for the drawn takeoffs too: what a drawing sets does not come from a measured length.
    """
    settled: dict[Key, Settled] = {}
    pools: dict[str, dict[Key, Fraction]] = {}
    for name, takeoff in takeoffs.items():
        for line in takeoff.lines:
            key = Key(name, line.item, line.stage)
            if line.by_site:
                pools.setdefault(line.item, {})[key] = line.exact
            else:
                whole = ceil(line.exact) * SCALE
                settled[key] = Settled(line.exact, whole, whole)
    for pool in pools.values():
        for key, share in share_rounded(pool, planned).items():
            settled[key] = Settled(pool[key], share, share)
    for key, quantity in (overrides or {}).items():
        line_settled = settled.get(key)
        exact, computed = (line_settled.exact, line_settled.computed) if line_settled else (Fraction(0), 0)
        settled[key] = Settled(exact, computed, quantity)
    return settled


def share_rounded(pool: Mapping[Key, Fraction], planned: PlannedDates) -> dict[Key, int]:
    """
    Return the shares of one item's whole-number total over its run-stages, in ten-thousandths; they add up to it.

    The exact quantities added and rounded up once, shared in proportion; each share is cut to four places and the
    rest goes to the last-dated run-stage. Among equal dates, and where nothing is dated, the last is the one whose
    stage comes last, then whose run's name does; a dated run-stage comes after all undated ones.
    """
    exact = sum(pool.values(), Fraction(0))
    if exact == 0:
        return dict.fromkeys(pool, 0)
    total = ceil(exact) * SCALE
    shares = {key: int(total * quantity / exact) for key, quantity in pool.items()}

    def when(key: Key) -> tuple[date, int, str]:
        return planned.get((key.run, key.stage)) or date.min, STAGES.index(key.stage), key.run

    last = max((key for key, quantity in pool.items() if quantity), key=when)
    shares[last] += total - sum(shares.values())
    return shares
