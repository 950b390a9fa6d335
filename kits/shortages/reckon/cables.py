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

from kits.shortages.reckon.lines import CableLine, UnmetLength
from reels.planner.holds import still_holds

NOTHING_OPEN = "nothing to plan"
ROOM = 3_048_000  # ticks: a foot, more than a planning grid and the reading of marks lose


@dataclass(frozen=True, slots=True)
class OpenLength:
    """A conductor still to be cut."""

    key: int
    run_id: int
    run: str
    conductor: str
    need: int


@dataclass(frozen=True, slots=True)
class CablePlan:
    """
    A cut plan, stored or worked out now.

    cuts : reel by conductor. unmet : length of what found no reel, by run and conductor. reels : all that it knew.
    buy : (length, count). bound : no plan costs less at the site's rates; gap : what this one costs more.
    waits : the crew is to wait for its reels that are on the way.
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


@dataclass(frozen=True, slots=True)
class CableYard:
    """
    What is needed of a cable, and what lies here.

    here : what may be cut from each reel, by tag. coming : the same of reels on the way, once they are here.
    """

    cable: str
    need: int
    cut: int
    on_reels: int
    open: tuple[OpenLength, ...]
    here: Mapping[str, int]
    coming: Mapping[str, int] = field(default_factory=dict)


def cable_line(yard: CableYard, plans: Sequence[CablePlan], work_out: Callable[[], CablePlan]) -> CableLine:
    """
    Return the line of a cable by the first of `plans` that fits the yard, else by one that is worked out.

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
        )
    plan = next((plan for plan in plans if fits(plan, yard)), None) or work_out()
    unmet = tuple(_unmet(plan, yard))
    return CableLine(
        cable=yard.cable,
        need=yard.need,
        cut=yard.cut,
        open=yard.need - yard.cut,
        on_reels=yard.on_reels,
        unmet=unmet,
        method=plan.name,
        # A plan cannot say what to buy of a cable whose lengths for sale nobody gave.
        buy=plan.buy or (() if all(length.waits_for for length in unmet) else None),
        scrap=plan.scrap,
        remnants=plan.remnants,
        bound=plan.bound,
        gap=plan.gap,
        proven=plan.proven,
    )


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
        left[tag] -= need
    least = min(uncut.values())
    return not any(left[tag] >= least + (ROOM if tag in plan.reels else 0) for tag in yard.here)


def _unmet(plan: CablePlan, yard: CableYard) -> Iterator[UnmetLength]:
    """Yield what the reels here cannot give by a plan that fits, with the reel on the way that will."""
    for length in yard.open:
        tag = plan.cuts.get(length.key, "")
        if length.need and tag not in yard.here:
            yield UnmetLength(length.run, length.conductor, length.need, length.run_id, waits_for=tag)
