"""
What the first page of cut plans and the page of one cable show.

Read in a number of queries that does not grow with reels, runs or cuts. Lengths are ticks (1/10 000 mm) unless they
are text already.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.core.paginator import Page, Paginator

from reels.ledger.entries import Ledger, ReelEntry
from reels.ledger.models import Reel
from reels.ledger.queries import ledger
from reels.plans.models import CutPlan, PlannedCut
from reels.plans.pages.level_words import LevelWords, difference
from reels.plans.pages.shared import (
    ANSWERED,
    MOST_PLANS,
    REELS_PER_PAGE,
    STANDING,
    ReelStrip,
    State,
    Uncut,
    by_standing,
    cost_words,
    level_words,
    places_of,
    plans_of,
    runs_of,
    scale_for,
    strip_of,
    uncut_of,
    verdict,
)
from reels.plans.pages.strips import Scale, patterns_of
from reels.plans.queries import ReelCutList, Staleness, cut_list, enough_to_buy, staleness
from reels.plans.site_problem import Standing, read_standing
from reels.plans.staleness import InputChange
from takeoff.catalogue.models import Cable
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class CableRow:
    """
    A cable on the first page: what is needed, what is there, and the plan that stands.

    stale : what has changed since that plan was made; None where it was not asked.
    """

    cable: Cable
    need: int
    still_open: int
    pieces: int
    here: int
    coming: int
    reels: int
    plan: CutPlan | None
    working: CutPlan | None
    stale: Staleness | None = None


@dataclass(frozen=True, slots=True)
class PlanShown:
    """
    A plan as its page shows it.

    part, strips : the reels that are shown. found : all reels that it cuts. idle : reels that it leaves alone.
    kept : cuts that stay on the reel that the accepted plan has them on, and how many it has; None without one.
    enough : no purchase below this total is enough, where more is to buy; else None.
    trade : what the plan by the other order does that this one does not, with that plan.
    """

    plan: CutPlan
    levels: tuple[LevelWords, ...]
    verdict: str
    proven: bool
    cost: str
    stale: Staleness | None
    as_planned: int
    changes: tuple[InputChange, ...]
    kept: tuple[int, int] | None
    uncut: tuple[Uncut, ...]
    buy: tuple[tuple[int, int], ...]
    enough: int | None
    scale: Scale
    part: Page
    strips: tuple[ReelStrip, ...]
    found: int
    idle: tuple[ReelEntry, ...]
    trade: tuple[CutPlan, str] | None


@dataclass(frozen=True, slots=True)
class CablePage:
    """The page of a cable: its plans, and one of them shown."""

    row: CableRow
    plans: tuple[CutPlan, ...]
    shown: PlanShown | None
    failed: CutPlan | None
    unmeasured: int


def cable_rows(site: Site) -> list[CableRow]:
    """Return the cables that have something to cut, or reels, by code."""
    books, standing = ledger(site), read_standing(site)
    by_cable: dict[int, list[CutPlan]] = defaultdict(list)
    plans = CutPlan.objects.of(site).filter(state__in=[*STANDING, State.PLANNING])
    # An accepted plan comes before a proposed one, by the names of the states.
    for plan in plans.order_by("state", "-pk").prefetch_related("cuts"):
        by_cable[plan.cable_id].append(plan)
    rows = [_row(cable, books, by_cable[cable.pk]) for cable in Cable.objects.of(site).order_by("code")]
    return [_held_to(site, row, books, standing) for row in rows if row.need or row.reels]


def cable_page(site: Site, cable: Cable, *, plan_id: int | None, page: str, text: str) -> CablePage | None:
    """
    Return the page of a cable with the plan asked for, else the one that stands, or None for a plan that is none.

    page, text : which reels to show: a page of those whose tag or runs hold the text.
    """
    books = ledger(site)
    plans = plans_of(site, cable)
    chosen = next((plan for plan in by_standing(plans) if plan_id in {None, plan.pk}), None)
    if plan_id is not None and chosen is None:
        return None
    latest = plans[0] if plans else None
    return CablePage(
        row=_row(cable, books, plans),
        plans=tuple(plan for plan in plans if plan.state in ANSWERED)[:MOST_PLANS],
        shown=_shown(site, cable, books, plans, chosen, page, text) if chosen else None,
        failed=latest if latest and latest.state == State.FAILED else None,
        unmeasured=sum(not entry.need for entry in books.open_of(cable.pk)),
    )


def elapsed(plan: CutPlan) -> tuple[str, int | None]:
    """Return the stage that a plan being worked out is at and for how long [s]; None before a worker has begun."""
    stage, _, seconds = plan.progress.rpartition(", ")
    number = seconds.removesuffix(" s")
    return (stage, int(number)) if number.isdigit() else ("", None)


def _held_to(site: Site, row: CableRow, books: Ledger, standing: Standing) -> CableRow:
    """Return a row that says what has changed since its plan was made."""
    if row.plan is None:
        return row
    row.plan.site, row.plan.cable = site, row.cable
    return replace(row, stale=staleness(row.plan, books=books, standing=standing))


def _row(cable: Cable, books: Ledger, plans: Sequence[CutPlan]) -> CableRow:
    needs = [entry for entry in books.conductors if entry.conductor.cable_id == cable.pk]
    still_open = [entry for entry in needs if not entry.is_cut]
    reels = [entry for entry in books.reels if entry.reel.cable_id == cable.pk]
    here = [entry for entry in reels if entry.is_here]
    return CableRow(
        cable=cable,
        need=sum(entry.need for entry in needs),
        still_open=sum(entry.need for entry in still_open),
        pieces=len(still_open),
        here=sum(entry.usable for entry in here),
        coming=sum(entry.left for entry in reels if entry.reel.state == Reel.State.ON_THE_WAY),
        reels=len(here),
        plan=next((plan for plan in by_standing(plans) if plan.state in STANDING), None),
        working=next((plan for plan in plans if plan.state == State.PLANNING), None),
    )


def _shown(
    site: Site, cable: Cable, books: Ledger, plans: Sequence[CutPlan], plan: CutPlan, page: str, text: str
) -> PlanShown:
    plan.site, plan.cable = site, cable
    lists = cut_list(plan, books=books)
    patterns = patterns_of(runs_of(lists))
    scale = scale_for(site, cable, books)
    wanted = [each for each in lists if _holds(each, text.casefold())]
    part = Paginator(wanted, REELS_PER_PAGE).get_page(page)
    stale = staleness(plan, books=books) if plan.state in STANDING else None
    used = {each.entry.reel.pk for each in lists}
    states = {Reel.State.ON_SITE, Reel.State.ON_THE_WAY, Reel.State.HELD}
    told, proven = verdict(plan)
    return PlanShown(
        plan=plan,
        levels=level_words(plan, site, lists),
        verdict=told,
        proven=proven,
        cost=cost_words(plan, site),
        stale=stale,
        as_planned=len(stale.changes) - len(stale.off_plan) if stale else 0,
        changes=stale.off_plan if stale else (),
        kept=_kept(site, plan, plans, lists),
        uncut=uncut_of(plan),
        buy=tuple((size, count) for size, count in plan.buy),
        enough=enough_to_buy(plan),
        scale=scale,
        part=part,
        strips=tuple(strip_of(each, scale, patterns, site) for each in part),
        found=len(lists),
        idle=tuple(
            entry
            for entry in books.reels
            if entry.reel.cable_id == cable.pk
            and entry.reel.pk not in used
            and entry.reel.state in states
            and entry.left
        ),
        trade=_trade(site, plan, plans),
    )


def _holds(each: ReelCutList, text: str) -> bool:
    runs = {line.planned.conductor.run.name.casefold() for line in each.lines}
    return text in each.entry.reel.tag.casefold() or any(text in run for run in runs)


def _kept(site: Site, plan: CutPlan, plans: Sequence[CutPlan], lists: Sequence[ReelCutList]) -> tuple[int, int] | None:
    accepted = next((each for each in plans if each.state == State.ACCEPTED), None)
    if accepted is None or accepted.pk == plan.pk:
        return None
    now = places_of(lists)
    before = PlannedCut.objects.of(site).filter(plan=accepted, conductor__in=now)
    places = dict(before.values_list("conductor_id", "reel_id"))
    return sum(now[key] == reel for key, reel in places.items()), len(places)


def _trade(site: Site, plan: CutPlan, plans: Sequence[CutPlan]) -> tuple[CutPlan, str] | None:
    """Return the newest plan by the other order of the same reels and lengths, and what it does differently."""
    other = next((each for each in plans if each.state in ANSWERED and each.strict != plan.strict), None)
    if other is None:
        return None
    inputs = dict(CutPlan.objects.of(site).filter(pk__in=[plan.pk, other.pk]).values_list("pk", "inputs"))
    mine, its = inputs[plan.pk], inputs[other.pk]
    if any(mine.get(key) != its.get(key) for key in ("reels", "needs", "planned")):
        return None
    return other, difference(plan.levels, other.levels, unit=site.unit)
