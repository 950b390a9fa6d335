"""
A plan, its reels and its levels as every page of cut plans shows them.

Lengths are ticks (1/10 000 mm) unless they are text already.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reels.ledger.entries import Ledger, ReelEntry
from reels.plans.models import CutPlan
from reels.plans.pages.level_words import LevelWords, length, levels
from reels.plans.pages.strips import ReelShares, Scale, StripBand, draw, name_parts, scale_of, shares_of, told_names
from reels.plans.queries import CutLine, ReelCutList
from reels.plans.site_problem import name_of
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Run
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.lengths import FOOT

State = CutPlan.State
ANSWERED = (State.ACCEPTED, State.PROPOSED, State.SUPERSEDED)
STANDING = (State.ACCEPTED, State.PROPOSED)
REELS_PER_PAGE = 60
MOST_PLANS = 12


@dataclass(frozen=True, slots=True)
class LengthCount:
    """Cuts of one run and length. made : they are cut already."""

    run: Run
    names: str
    count: int
    length: int
    pattern: int = 0


@dataclass(frozen=True, slots=True)
class ReelStrip:
    """A reel with its strip and the same in words. elsewhere : planned here, cut off another reel."""

    entry: ReelEntry
    bands: tuple[StripBand, ...]
    lots: tuple[LengthCount, ...]
    made: tuple[LengthCount, ...]
    elsewhere: tuple[CutLine, ...]
    end: int
    end_is: str
    over: int


@dataclass(frozen=True, slots=True)
class Uncut:
    """Conductors of a run that a plan has no reel for."""

    run: str
    names: str
    count: int
    length: int


def find_cable(site: Site, cable_id: int) -> Cable | None:
    """Return a cable of the site, or None."""
    return Cable.objects.of(site).filter(pk=cable_id).first()


def find_plan(site: Site, cable: Cable, plan_id: int) -> CutPlan | None:
    """Return a plan of a cable, or None."""
    plans = CutPlan.objects.of(site).filter(cable=cable, pk=plan_id)
    return plans.select_related("site", "cable", "asked_by", "decided_by").first()


def plans_of(site: Site, cable: Cable) -> list[CutPlan]:
    """Return the plans of a cable, newest first, without what they were made from."""
    plans = CutPlan.objects.of(site).filter(cable=cable).defer("inputs").select_related("asked_by", "decided_by")
    standing = list(plans.filter(state__in=[*STANDING, State.PLANNING]).order_by("-pk"))
    others = list(plans.exclude(state__in=[*STANDING, State.PLANNING]).order_by("-pk")[:MOST_PLANS])
    return sorted([*standing, *others], key=lambda plan: -plan.pk)


def by_standing(plans: Sequence[CutPlan]) -> list[CutPlan]:
    """Return those with an answer, accepted first, then proposed, newest first."""
    answered = [plan for plan in plans if plan.state in ANSWERED]
    standing = [plan for state in STANDING for plan in answered if plan.state == state]
    return [*standing, *(plan for plan in answered if plan.state not in STANDING)]


def strip_of(each: ReelCutList, scale: Scale, patterns: dict[str, int], site: Site) -> ReelStrip:
    """Return a reel of a plan as a strip and in words."""
    entry = each.entry
    todo = [(line.planned.conductor.run.name, line.planned.conductor.name, line.need) for line in each.to_do]
    received = to_ticks(entry.reel.length)
    gone = max(0, received - entry.left)
    shares = ReelShares(
        received=received,
        gone=gone,
        unlogged=min(gone, entry.unlogged),
        shares=shares_of(todo),
        end=max(0, each.left - entry.tail),
        tail=min(each.left, entry.tail),
        end_is=each.left_is,
    )
    made = [line for line in each.lines if line.made is not None and not line.off_plan]
    return ReelStrip(
        entry=entry,
        bands=draw(shares, scale, patterns),
        lots=_lots(each.to_do, patterns),
        made=_lots(made, patterns),
        elsewhere=tuple(line for line in each.lines if line.off_plan),
        end=each.left,
        end_is=each.left_is,
        over=max(0, sum(size for _, _, size in todo) - entry.usable),
    )


def _lots(lines: Iterable[CutLine], patterns: dict[str, int]) -> tuple[LengthCount, ...]:
    """Return cuts of one run and length together, in the order to cut."""
    lots: dict[tuple[int, int], list[CutLine]] = defaultdict(list)
    for line in lines:
        lots[line.planned.conductor.run_id, line.need].append(line)
    return tuple(
        LengthCount(
            run=of[0].planned.conductor.run,
            names=told_names([line.planned.conductor.name for line in of]),
            count=len(of),
            length=need,
            pattern=patterns.get(of[0].planned.conductor.run.name, 0),
        )
        for (_, need), of in lots.items()
    )


def scale_for(site: Site, cable: Cable, books: Ledger) -> Scale:
    """Return the scale that all reels of a cable are drawn to."""
    lengths = [to_ticks(entry.reel.length) for entry in books.reels if entry.reel.cable_id == cable.pk]
    return scale_of(lengths, unit=site.unit)


def lines_of(lists: Iterable[ReelCutList]) -> list[CutLine]:
    """Return all cuts of these lists."""
    return [line for each in lists for line in each.lines]


def runs_of(lists: Iterable[ReelCutList]) -> list[list[str]]:
    """Return the run of each cut by reel, in the order to cut."""
    return [[line.planned.conductor.run.name for line in each.lines] for each in lists]


def places_of(lists: Iterable[ReelCutList]) -> dict[int, int]:
    """Return the reel of each conductor, by their keys."""
    return {line.planned.conductor_id: line.planned.reel_id for line in lines_of(lists)}


def level_words(plan: CutPlan, site: Site, lists: Sequence[ReelCutList] | None = None) -> tuple[LevelWords, ...]:
    """
    Return a plan's levels in words, also of one that is still being worked out.

    lists : what it cuts by reel; then scrap and remnants are those ends, tails included, as the strips have them.
    """
    told = {"levels": plan.levels, "bounds": plan.bounds, "proven": plan.proven}
    ends = None if lists is None else ends_of(plan, lists)
    return levels(told, unit=site.unit, best=verdict(plan)[1], ends=ends)


def ends_of(plan: CutPlan, lists: Iterable[ReelCutList]) -> dict[str, float]:
    """Return a plan's levels with its scrap [ft] and remnants as its reels end, tails included."""
    cut = [each for each in lists if each.lines]
    scrap = sum(each.left for each in cut if each.left_is == "scrap")
    remnants = sum(each.left_is == "remnant" for each in cut)
    return {**plan.levels, "scrapFeet": round(scrap / FOOT, 4), "remnants": remnants}


def verdict(plan: CutPlan) -> tuple[str, bool]:
    """Return how good a plan is proven to be as a whole, and whether it is the best there is."""
    order = "in the strict order" if plan.strict else "at these rates"
    level_proofs = plan.proven and all(plan.proven.values())
    cost_proof = not plan.strict and plan.cost is not None and plan.cost == plan.cost_bound and _all_cut(plan)
    if plan.stopped == CutPlan.Stopped.PROVEN or level_proofs or cost_proof:
        return f"Proven: nothing better exists {order}.", True
    if plan.stopped in {CutPlan.Stopped.ASKED, CutPlan.Stopped.TIME}:
        why = "stopped early" if plan.stopped == CutPlan.Stopped.ASKED else "out of time"
        return f"The best so far, {why}: a better one may exist.", False
    return "The best that was found: a better one may exist.", False


def _all_cut(plan: CutPlan) -> bool:
    """Return whether a plan cuts as much as any can, by its own proof."""
    return bool(plan.proven.get("unmetFeet")) or not plan.levels.get("unmetFeet")


def cost_words(plan: CutPlan, site: Site) -> str:
    """Return what a plan costs at its rates and how much could be gained at most, "" in the strict order."""
    if plan.strict or plan.cost is None:
        return ""
    told = f"At the rates all of it counts as {length(plan.cost, site.unit)} of scrap"
    if plan.cost_bound is None:
        return f"{told}."
    if plan.cost <= plan.cost_bound:
        return f"{told}; no plan comes below that."
    gain = length(plan.cost - plan.cost_bound, site.unit)
    return f"{told}; no plan comes below {length(plan.cost_bound, site.unit)}, so at most {gain} could be gained."


def uncut_of(plan: CutPlan) -> tuple[Uncut, ...]:
    """Return what a plan found no reel for, by run and length."""
    return _uncut((run, conductor, need) for run, conductor, need in plan.unmet)


def left_out(cable: Cable, lists: Iterable[ReelCutList], books: Ledger) -> tuple[Uncut, ...]:
    """Return what is still to be cut of a cable and stands on none of these lists, by run and length."""
    listed = places_of(lists)
    missing = [entry for entry in books.open_of(cable.pk) if entry.need and entry.conductor.pk not in listed]
    missing.sort(key=lambda entry: (entry.conductor.run.name, name_parts(entry.conductor.name)))
    return _uncut((*name_of(entry.conductor), entry.need) for entry in missing)


def _uncut(lengths: Iterable[tuple[str, str, int]]) -> tuple[Uncut, ...]:
    lots: dict[tuple[str, int], list[str]] = defaultdict(list)
    for run, conductor, need in lengths:
        lots[run, need].append(conductor)
    return tuple(Uncut(run, told_names(names), len(names), need) for (run, need), names in lots.items())
