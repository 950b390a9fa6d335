"""What a load of drawings does to accepted cut plans: no table of its own, a look at those of others."""

from __future__ import annotations

from collections import defaultdict

from django.db.models import F, Q

from reels.plans.models import CutPlan, PlannedCut
from takeoff.runs.models import Conductor
from takeoff.sheets.context import LoadContext
from takeoff.sheets.registry import register_follower


def look_at_plans(context: LoadContext) -> None:
    """
    Ask where a load makes an accepted plan wrong: other lengths, another cable, or no such conductor any more.

    What is cut already is not asked about here: the run's page says what is short of the new length.
    """
    runs = {change.key for change in context.outcomes["runs"].changes} if "runs" in context.outcomes else set()
    runs |= context.effects.lengths.keys()
    accepted = CutPlan.objects.of(context.site).filter(state=CutPlan.State.ACCEPTED).select_related("cable")
    plans = list(accepted.order_by("cable__code")) if runs else []
    if not plans:
        return
    wrong: dict[tuple[int, str], set[str]] = defaultdict(set)
    planned = PlannedCut.objects.of(context.site).filter(
        ~Q(length=F("conductor__length")) | ~Q(plan__cable=F("conductor__cable")),
        plan__in=plans,
        conductor__run__name__in=runs,
        conductor__cuts=None,
    )
    for key, run, name in planned.values_list("plan_id", "conductor__run__name", "conductor__name"):
        wrong[key, run].add(name)
    there = set(Conductor.objects.of(context.site).filter(run__name__in=runs).values_list("run__name", "name"))
    for plan in plans:
        for run, name, _length in plan.inputs.get("needs", []):
            if run in runs and (run, name) not in there:
                wrong[plan.pk, run].add(name)
    for plan in plans:
        for run in sorted(of_run for key, of_run in wrong if key == plan.pk):
            names = sorted(wrong[plan.pk, run])
            count = f"{len(names)} length{'s' if len(names) > 1 else ''}"
            context.effects.touched.append(f"Accepted cut plan of {plan.cable}: {count} of {run}.")
            text = f"the accepted cut plan of {plan.cable} has {', '.join(names)} as they were; plan again after this"
            context.doubt(run, text)


register_follower(
    tables={"site", "items", "cables", "rules", "runs", "ends", "sections", "crossings", "conductors"},
    follow=look_at_plans,
)
