"""Use held against plan: by item and stage, by run, by crew. Quantities are ticks of an item's unit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction

from kits.shortages.reckon.lines import ShortItem
from takeoff.units.exact import SCALE

HUNDREDTH = 2  # places of a tick


@dataclass(frozen=True, slots=True)
class StageUse:
    """What one finished stage was planned to use of an item, and what it used."""

    item: ShortItem
    run_id: int
    run: str
    stage: str
    planned: int
    used: int

    @property
    def more(self) -> int:
        """What it used beyond plan; below 0 what it did without."""
        return self.used - self.planned

    @property
    def cost(self) -> Fraction | None:
        """What that is worth, in minor units; None where the price is not known."""
        return None if self.item.unit_cost is None else Fraction(self.more * self.item.unit_cost, SCALE)


@dataclass(frozen=True, slots=True)
class ItemUse:
    """What finished stages of one name used of an item, added up over `stages` of them."""

    item: ShortItem
    stage: str
    stages: int
    planned: int
    used: int

    @property
    def more(self) -> int:
        """What they used beyond plan; below 0 what they did without."""
        return self.used - self.planned

    @property
    def shown(self) -> tuple[int, int, int]:
        """Planned, used and the difference as people read them: to a hundredth, adding up. [ticks]"""
        planned, used = round(self.planned, -HUNDREDTH), round(self.used, -HUNDREDTH)
        return planned, used, used - planned

    @property
    def of_plan(self) -> Fraction | None:
        """Use over plan; None where nothing was planned."""
        return Fraction(self.used, self.planned) if self.planned > 0 else None


@dataclass(frozen=True, slots=True)
class TotalUse:
    """
    What one run or crew used against plan.

    stages : finished ones. over, under : of how many items more or less than planned. cost : worth of the difference in
    minor units, of what has a price; unpriced : lines off plan without one.
    """

    name: str
    run_id: int
    stages: int
    over: int
    under: int
    cost: int
    unpriced: int


def by_item(uses: Iterable[StageUse]) -> tuple[ItemUse, ...]:
    """Return uses added up by item and stage, in the order in which they first come."""
    found: dict[tuple[int, str], list[StageUse]] = defaultdict(list)
    for use in uses:
        found[use.item.id, use.stage].append(use)
    return tuple(
        ItemUse(rows[0].item, stage, len(rows), sum(row.planned for row in rows), sum(row.used for row in rows))
        for (_, stage), rows in found.items()
    )


def by_name(uses: Iterable[StageUse], name: Callable[[StageUse], str]) -> tuple[TotalUse, ...]:
    """Return uses added up by what `name` says of each (its run, its crew), by name."""
    found: dict[str, list[StageUse]] = defaultdict(list)
    for use in uses:
        found[name(use)].append(use)
    return tuple(_total(key, found[key]) for key in sorted(found))


def _total(name: str, rows: list[StageUse]) -> TotalUse:
    of_item: dict[int, int] = defaultdict(int)
    for row in rows:
        of_item[row.item.id] += row.more
    return TotalUse(
        name=name,
        run_id=rows[0].run_id,
        stages=len({(row.run_id, row.stage) for row in rows}),
        over=sum(more > 0 for more in of_item.values()),
        under=sum(more < 0 for more in of_item.values()),
        cost=round(sum((row.cost for row in rows if row.cost is not None), Fraction(0))),
        unpriced=sum(row.cost is None and row.more != 0 for row in rows),
    )
