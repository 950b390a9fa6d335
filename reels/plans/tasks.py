"""Cut plans in the background."""

from __future__ import annotations

from django.db import transaction
from django_tasks import task

from reels.planner.options import Options
from reels.plans.models import CutPlan
from reels.plans.services import ask_for_plan, run_plan
from takeoff.catalogue.models import Cable
from takeoff.people.models import User
from takeoff.sites.models import Site


@transaction.atomic
def plan_in_background(*, site: Site, cable: Cable, options: Options, asked_by: User | None = None) -> CutPlan:
    """Ask for a plan and let a worker work it out; its row tells how far it is."""
    plan = ask_for_plan(site=site, cable=cable, options=options, asked_by=asked_by)
    work_out.enqueue(site.pk, plan.pk)
    return plan


@task()
def work_out(site_id: int, plan_id: int) -> str:
    """Work out a plan that was asked for, unless it was given up; return the state that it is left in."""
    site = Site.objects.get(pk=site_id)
    plan = CutPlan.objects.of(site).select_related("site", "cable").get(pk=plan_id)
    if plan.state != CutPlan.State.PLANNING:
        return plan.state
    return run_plan(plan=plan).state
