"""
A cable's line: by a stored cut plan where one still fits the yard, else by one worked out for it.

A plan fits when every length that is still open is in it as long as it is needed now, or was found to fit nowhere, when
each reel still holds its share, and when no reel that could serve has come since. A plan that was accepted with reels
on the way fits while they are: what it takes off them waits, and is unmet until they are here. Lengths in ticks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from kits.shortages.reckon.lines import CableLine, UnmetLength

NOTHING_OPEN = "nothing to plan"
# What a plan may count beyond the needs, so that nothing else fits there [ticks]: a foot on each reel, and of each cut
# the whole inch of the tape, another of the mark, and a step of the planning grid.
ROOM, ROOM_OF_A_CUT = 3_048_000, 2 * 254_000 + 304_800


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

    cuts : reel and length by conductor. unmet : length of what found no reel, by run and conductor. reels : all that it
    knew. buy : (length, count). bound : no plan costs less at the site's rates; gap : what this one costs more.
    waits : the crew is to wait for its reels that are on the way.
    """

    name: str
    cuts: Mapping[int, tuple[str, int]]
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
    """Return whether what is left of a plan can still be carried out, and nothing has come that could do better."""
    shortest = min((length.need for length in yard.open if length.need), default=None)
    if shortest and any(left >= shortest for tag, left in yard.here.items() if tag not in plan.reels):
        return False
    wanted: dict[str, int] = defaultdict(int)
    counted: dict[str, int] = defaultdict(int)
    uncut: dict[tuple[str, str], int] = {}
    for length in yard.open:
        if not length.need:
            continue
        tag, planned = plan.cuts.get(length.key, ("", 0))
        if not tag:
            uncut[length.run, length.conductor] = length.need
        elif planned == length.need:
            wanted[tag] += length.need
            counted[tag] += length.need + ROOM_OF_A_CUT
        else:
            return False
    if uncut != plan.unmet:
        return False
    there = {**yard.coming, **yard.here} if plan.waits else yard.here
    if any(total > there.get(tag, 0) for tag, total in wanted.items()):
        return False
    # Room for what found no reel: something was given up since. A little less than that is lost to reading marks.
    spare = max((left - counted[tag] for tag, left in yard.here.items()), default=0)
    return not uncut or spare < min(uncut.values()) + ROOM


def _unmet(plan: CablePlan, yard: CableYard) -> Iterator[UnmetLength]:
    """Yield what the reels here cannot give by a plan that fits, with the reel on the way that will."""
    for length in yard.open:
        tag, _ = plan.cuts.get(length.key, ("", 0))
        if length.need and tag not in yard.here:
            yield UnmetLength(length.run, length.conductor, length.need, length.run_id, waits_for=tag)
