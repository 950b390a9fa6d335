"""
A cable's line: by a stored cut plan where one still fits the yard, else by one worked out for it.

A plan fits while it holds (`reels/planner/holds.py`), every open length is in it or was found to fit nowhere, and there
is no room now for what found no reel. A plan that was accepted with reels on the way fits while they are: what it takes
off them waits, and is unmet until they are here. Lengths in ticks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from kits.shortages.reckon.lines import CableLine, CableWare, ReelsOnOrder, UnmetLength
from kits.shortages.reckon.reels_to_order import still_to_order, to_order
from kits.shortages.reckon.working_days import WorkingDays
from reels.planner.holds import still_holds

NOTHING_OPEN = "nothing to plan"
EVERY_WEEK = WorkingDays()
# What a plan may count beyond the needs, so that nothing else fits there [ticks]: a foot on each reel, and of each cut
# the whole inch of the tape, another of the mark, and a step of the planning grid.
ROOM, ROOM_OF_A_CUT = 3_048_000, 2 * 254_000 + 304_800


@dataclass(frozen=True, slots=True)
class OpenLength:
    """A conductor still to be cut. planned : the day its cables are planned for, None when undated."""

    key: int
    run_id: int
    run: str
    conductor: str
    need: int
    planned: date | None = None


@dataclass(frozen=True, slots=True)
class CablePlan:
    """
    A cut plan, stored or worked out now.

    cuts : reel by conductor. unmet : length of what found no reel, by run and conductor. reels : all that it knew.
    buy : (length, count). bound : no plan costs less at the site's rates; gap : what this one costs more.
    waits : the crew is to wait for its reels that are on the way. buy_for : the runs that no reel on the way serves.
    """

    name: str
    cuts: Mapping[int, str]
    unmet: Mapping[tuple[str, str], int]
    reels: frozenset[str]
    buy: tuple[tuple[int, int], ...]
    scrap: int | None
    remnants: int | None
    bound: int | None
    gap: int | None
    proven: bool
    waits: bool = False
    buy_for: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class CableYard:
    """
    What is needed of a cable, and what lies here.

    here : what may be cut from each reel, by tag. coming : the same of reels on the way, once they are here. ware : how
    it is bought. on_order : ordered, and neither here nor on the way.
    """

    cable: str
    need: int
    cut: int
    on_reels: int
    open: tuple[OpenLength, ...]
    here: Mapping[str, int]
    coming: Mapping[str, int] = field(default_factory=dict)
    ware: CableWare | None = None
    on_order: tuple[ReelsOnOrder, ...] = ()


def cable_line(
    yard: CableYard,
    plans: Sequence[CablePlan],
    work_out: Callable[[], CablePlan],
    *,
    as_of: date = date.min,
    buffer_days: int = 0,
    working_days: WorkingDays = EVERY_WEEK,
) -> CableLine:
    """
    Return the line of a cable by the first of `plans` that fits the yard, else by one that is worked out.

    as_of : what was planned for an earlier day counts on this one. buffer_days : by which orders come before the need.
    working_days : of the site, on which orders are placed.
    What only a plan can say stays None where nothing is to be cut. A length of 0 is not known yet and is left out.
    """
    if not any(length.need for length in yard.open):
        return CableLine(
            cable=yard.cable,
            need=yard.need,
            cut=yard.cut,
            open=yard.need - yard.cut,
            on_reels=yard.on_reels,
            unmet=(),
            method=NOTHING_OPEN,
            buy=(),
            ware=yard.ware,
            order=(),
            on_order=yard.on_order,
        )
    plan = next((plan for plan in plans if fits(plan, yard)), None) or work_out()
    unmet = tuple(_unmet(plan, yard))
    # A plan cannot say what to buy of a cable whose lengths for sale nobody gave.
    buy = plan.buy or (() if all(length.waits_for for length in unmet) else None)
    lacking = _lacking(plan, yard, unmet)
    days = [max(length.planned, as_of) for length in yard.open if length.planned and length.run in lacking]
    short_on = min(days, default=None)
    order = None if buy is None else to_order(still_to_order(buy, yard.on_order), yard.ware)
    lead = yard.ware.lead if yard.ware else None
    need_by = short_on - timedelta(days=buffer_days) if short_on else None
    return CableLine(
        cable=yard.cable,
        need=yard.need,
        cut=yard.cut,
        open=yard.need - yard.cut,
        on_reels=yard.on_reels,
        unmet=unmet,
        method=plan.name,
        buy=buy,
        scrap=plan.scrap,
        remnants=plan.remnants,
        bound=plan.bound,
        gap=plan.gap,
        proven=plan.proven,
        ware=yard.ware,
        runs=tuple(sorted(lacking)),
        short_on=short_on,
        order_by=working_days.before(need_by, lead) if order and need_by and lead else None,
        need_by=need_by,
        order=order,
        on_order=yard.on_order,
    )


def _lacking(plan: CablePlan, yard: CableYard, unmet: Sequence[UnmetLength]) -> set[str]:
    """Return the runs with a length that no reel here or on the way gives, once all that comes is here."""
    still = plan.buy_for & {length.run for length in yard.open if length.need}
    if still or not plan.buy:
        return set(still)
    # Of before it was kept for whom to buy, or that is cut since: it is for all that stays uncut.
    return {length.run for length in unmet if not length.waits_for}


def fits(plan: CablePlan, yard: CableYard) -> bool:
    """Return whether a plan still holds, and still says of every open length whether the reels here give it."""
    to_cut: list[tuple[str, int]] = []
    uncut: dict[tuple[str, str], int] = {}
    for length in yard.open:
        tag = plan.cuts.get(length.key)
        if tag and length.need:
            to_cut.append((tag, length.need))
        elif length.need:
            uncut[length.run, length.conductor] = length.need
    there = {**yard.coming, **yard.here} if plan.waits else yard.here
    if uncut != plan.unmet or not still_holds(to_cut, there):
        return False
    if not uncut:
        return True
    # Room for what found no reel: one came, or something was given up. A little less is lost to reading marks.
    left = Counter(yard.here)
    for tag, need in to_cut:
        left[tag] -= need + ROOM_OF_A_CUT
    least = min(uncut.values())
    return not any(left[tag] >= least + (ROOM if tag in plan.reels else 0) for tag in yard.here)


def _unmet(plan: CablePlan, yard: CableYard) -> Iterator[UnmetLength]:
    """Yield what the reels here cannot give by a plan that fits, with the reel on the way that will."""
    for length in yard.open:
        tag = plan.cuts.get(length.key, "")
        if length.need and tag not in yard.here:
            yield UnmetLength(length.run, length.conductor, length.need, length.run_id, waits_for=tag)
