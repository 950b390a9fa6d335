"""
Asking for cut plans, storing what the planner answers, and deciding about it.

Only a plan that `check_plan` has passed is stored. Planning itself runs outside any transaction: it may take a while.
"""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic
from typing import Any

from django.db import transaction
from django.utils import timezone

from reels.planner.files.as_json import levels_as_json, proven_as_json
from reels.planner.options import Options
from reels.planner.plan import Bounds, Levels
from reels.plans.models import CutPlan, PlannedCut
from reels.plans.queries import LEAST_PURCHASE, options_of, staleness
from reels.plans.site_problem import PlannedCable, SiteProblem, name_of, solve
from takeoff.catalogue.models import Cable
from takeoff.database.locks import lock
from takeoff.people.models import User
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks

TELL_EVERY = 0.5  # seconds between two notes of progress
WAYS = ("strict", "rate_whole", "rate_remnant", "rate_setup", "with_coming")  # what a proposal was asked for by

Told = Callable[[str, float, dict[str, Any]], object]


class PlanError(Exception):
    """
    A plan that cannot be decided about so; `code` is for programs: not_proposed, stale, not_open.

    The text is a whole sentence for people.
    """

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


@transaction.atomic
def ask_for_plan(*, site: Site, cable: Cable, options: Options, asked_by: User | None = None) -> CutPlan:
    """
    Make the row of a plan that is to be worked out, and give up the one that is still being planned for the cable.

    `run_plan` works it out, here or in the background.
    """
    give_up_planning(site=site, cable=cable)
    return CutPlan.objects.create(
        site=site,
        cable=cable,
        asked_at=timezone.now(),
        asked_by=asked_by,
        strict=options.strict,
        rate_whole=from_ticks(to_ticks(options.rates.whole)),
        rate_remnant=from_ticks(to_ticks(options.rates.remnant)),
        rate_setup=from_ticks(to_ticks(options.rates.setup)),
        with_coming=options.with_coming,
        seconds_allowed=from_ticks(round(options.seconds * 10_000)),
    )


@transaction.atomic
def give_up_planning(*, site: Site, cable: Cable) -> tuple[int, ...]:
    """Drop what is still being planned for a cable, and return the keys of those plans."""
    _take_turns(site, cable)
    planning = CutPlan.objects.of(site).filter(cable=cable, state=CutPlan.State.PLANNING)
    keys = tuple(planning.order_by("pk").values_list("pk", flat=True))
    planning.update(state=CutPlan.State.CANCELLED, stop_asked=True)
    return keys


def run_plan(*, plan: CutPlan, told: Told | None = None) -> CutPlan:
    """
    Work out a plan that was asked for, and store it as a proposal.

    told : called with stage, seconds and levels as the planner gets better; a true answer stops it, and so does
    `stop_plan`. The best so far is then kept, labelled so. A failure is kept on the row and raised.
    """
    try:
        answer = solve(
            plan.site, plan.cable, options_of(plan), progress=lambda gathered: _Progress(plan, gathered, told)
        )
        return _store(plan, answer)
    except Exception as error:
        CutPlan.objects.of(plan.site).filter(pk=plan.pk, state=CutPlan.State.PLANNING).update(
            state=CutPlan.State.FAILED, trouble=f"{type(error).__name__}: {error}"
        )
        raise


@transaction.atomic
def accept_plan(*, site: Site, plan: CutPlan, by: User | None = None, though_stale: bool = False) -> CutPlan:
    """
    Make a proposal the plan that the crew follows; the one that it followed and all other proposals are superseded.

    Raises PlanError("not_proposed"), and PlanError("stale") for a proposal that something has changed since, unless
    `though_stale` and what is left of it can still be cut.
    """
    _take_turns(site, plan.cable)
    plan = CutPlan.objects.of(site).select_related("site", "cable").get(pk=plan.pk)
    if plan.state != CutPlan.State.PROPOSED:
        raise PlanError("not_proposed", f"Only a proposed plan can be accepted; this one is {plan.state}.")
    stale = staleness(plan)
    if stale.is_stale and not (though_stale and stale.followable):
        told = " ".join(str(change) for change in stale.changes[:5])
        raise PlanError("stale", f"Plan again: {told}")
    open_states = (CutPlan.State.ACCEPTED, CutPlan.State.PROPOSED)
    before = CutPlan.objects.of(site).filter(cable=plan.cable, state__in=open_states)
    before.exclude(pk=plan.pk).update(state=CutPlan.State.SUPERSEDED)
    plan.state = CutPlan.State.ACCEPTED
    plan.decided_at, plan.decided_by = timezone.now(), by
    plan.save(update_fields=["state", "decided_at", "decided_by"])
    return plan


@transaction.atomic
def cancel_plan(*, site: Site, plan: CutPlan, by: User | None = None) -> CutPlan:
    """Drop a plan, whether it is being planned, proposed or accepted. Raises PlanError("not_open") for any other."""
    _take_turns(site, plan.cable)
    plan = CutPlan.objects.of(site).get(pk=plan.pk)
    if plan.state not in {CutPlan.State.PLANNING, CutPlan.State.PROPOSED, CutPlan.State.ACCEPTED}:
        raise PlanError("not_open", f"The plan is {plan.state} already.")
    plan.state, plan.stop_asked = CutPlan.State.CANCELLED, True
    plan.decided_at, plan.decided_by = timezone.now(), by
    plan.save(update_fields=["state", "stop_asked", "decided_at", "decided_by"])
    return plan


@transaction.atomic
def stop_plan(*, site: Site, plan: CutPlan) -> None:
    """Ask a plan that is being worked out to stop, and keep the best so far."""
    CutPlan.objects.of(site).filter(pk=plan.pk, state=CutPlan.State.PLANNING).update(stop_asked=True)


def _take_turns(site: Site, cable: Cable) -> None:
    """Wait until nobody else decides about the plans of a cable: each decision changes several of them."""
    lock(Cable.objects.of(site).filter(pk=cable.pk))


class _Progress:
    """Notes on the plan's row how far the planner is, now and then, and hears from it whether to stop."""

    def __init__(self, plan: CutPlan, gathered: SiteProblem, told: Told | None) -> None:
        self.row = CutPlan.objects.of(plan.site).filter(pk=plan.pk)
        self.gathered = gathered
        self.told = told
        self.noted = -TELL_EVERY

    def __call__(self, stage: str, elapsed: float, levels: Levels, bounds: Bounds) -> bool:
        """Return whether to stop."""
        problem = self.gathered.problem
        asked = self.told is not None and bool(self.told(stage, elapsed, levels_as_json(problem, levels)))
        now = monotonic()
        if now - self.noted < TELL_EVERY:
            return asked
        self.noted = now
        self.row.update(
            progress=f"{stage}, {elapsed:.0f} s",
            levels=levels_as_json(problem, levels),
            bounds=levels_as_json(problem, bounds),
        )
        return asked or self.row.values_list("stop_asked", flat=True).get()


@transaction.atomic
def _store(plan: CutPlan, answer: PlannedCable) -> CutPlan:
    """Keep a checked answer as a proposal, unless the plan was given up in the meantime."""
    site = plan.site
    _take_turns(site, plan.cable)
    plan = CutPlan.objects.of(site).select_related("site", "cable").get(pk=plan.pk)
    if plan.state != CutPlan.State.PLANNING:
        return plan
    found, gathered, shares = answer.plan, answer.gathered, answer.shares
    problem = gathered.problem
    plan.state = CutPlan.State.PROPOSED
    plan.inputs, plan.inputs_hash = gathered.inputs.as_json(), gathered.inputs.digest
    plan.stopped, plan.seconds = found.stopped, found.seconds
    plan.levels, plan.bounds = levels_as_json(problem, found.levels), levels_as_json(problem, found.bounds)
    plan.proven = proven_as_json(found)
    plan.cost = round(float(found.cost), 4)
    if found.bounds.cost is not None:
        plan.cost_bound = round(float(found.bounds.cost), 4)
    plan.unmet = [[*name_of(entry.conductor), entry.need] for entry in shares.uncut]
    plan.buy, plan.buy_for = [list(purchase) for purchase in shares.buy], list(answer.buy_for)
    if shares.buy_least is not None:
        plan.bounds[LEAST_PURCHASE] = shares.buy_least
    plan.progress = ""
    plan.save()
    PlannedCut.objects.bulk_create(
        PlannedCut(plan=plan, reel=reel.reel, seq=seq, conductor=entry.conductor, length=entry.conductor.length)
        for reel, entries in shares.cuts
        for seq, entry in enumerate(entries, 1)
    )
    # A proposal by other rates stays, so that the two can be compared and either accepted.
    same_way = {name: getattr(plan, name) for name in WAYS}
    earlier = CutPlan.objects.of(site).filter(cable=plan.cable, state=CutPlan.State.PROPOSED, **same_way)
    earlier.exclude(pk=plan.pk).update(state=CutPlan.State.SUPERSEDED)
    return plan
