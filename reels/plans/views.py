"""The pages of cut plans: cables, one cable with its plans, two plans beside each other, the crew's list, headroom."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from reels.plans.forms import AskForm, ChoiceForm, CompareForm
from reels.plans.models import CutPlan
from reels.plans.pages.cable import cable_page, cable_rows, elapsed
from reels.plans.pages.compare import compare_page
from reels.plans.pages.crew import crew_page
from reels.plans.pages.headroom import room_page
from reels.plans.pages.shared import ANSWERED, find_cable, find_plan, level_words, plans_of
from reels.plans.services import PlanError, accept_plan, cancel_plan, give_up_planning, stop_plan
from reels.plans.tasks import plan_in_background
from takeoff.catalogue.models import Cable
from takeoff.people.permissions import PLAN, SEE, SiteRequest, may, needs, reads_proofs
from takeoff.people.sending import post_only
from takeoff.records.services import keep_one
from takeoff.runs.models import LengthChoice, Run

MOST_DIGITS = 18  # of a key in an address; more is no key of ours


@needs(SEE)
def cut_plan(request: SiteRequest) -> HttpResponse:
    """Show the cables of the site, how much is still to be cut of each, and which plan stands."""
    return render(request, "reels/plans/cables.html", {"rows": cable_rows(request.site)})


@needs(SEE)
def cable(request: SiteRequest, cable_id: int) -> HttpResponse:
    """Show a cable with the plan that stands, or another of its plans."""
    return _cable_page(request, _cable(request, cable_id), None)


@needs(PLAN)
@post_only("cut_plan_cable", "cable_id")
def ask(request: SiteRequest, cable_id: int) -> HttpResponse:
    """Have a worker look for a plan."""
    found, form = _cable(request, cable_id), AskForm(request.POST, site=request.site)
    if not form.is_valid():
        return _cable_page(request, found, form, status=422)
    for dropped in give_up_planning(site=request.site, cable=found):
        messages.info(request, f"Plan {dropped} was dropped: it was not done yet when this one was asked for.")
    plan_in_background(site=request.site, cable=found, options=form.options(), asked_by=request.user)
    return redirect("cut_plan_cable", request.site.slug, cable_id)


@needs(SEE)
def progress(request: SiteRequest, cable_id: int, plan_id: int) -> HttpResponse:
    """Tell how far a plan is; the whole page has something new to show once it is done."""
    plan = _plan(request, _cable(request, cable_id), plan_id)
    if plan.state != CutPlan.State.PLANNING:
        response = HttpResponse(status=204)
        response["HX-Refresh"] = "true"
        return response
    return render(request, "reels/plans/progress.html", _progress(request, plan))


@needs(PLAN)
@post_only("cut_plan_cable", "cable_id")
def accept(request: SiteRequest, cable_id: int, plan_id: int) -> HttpResponse:
    """Let the crew follow a proposed plan."""
    plan = _plan(request, _cable(request, cable_id), plan_id)
    try:
        accept_plan(site=request.site, plan=plan, by=request.user, though_stale="though_stale" in request.POST)
    except PlanError as error:
        messages.error(request, f"The plan was not accepted. {error}")
        return _to_plan(request, plan)
    messages.success(request, f"Plan {plan.pk} is accepted: the crew's cut list follows it.")
    return redirect("cut_plan_cable", request.site.slug, cable_id)


@needs(PLAN)
@post_only("cut_plan_cable", "cable_id")
def stop(request: SiteRequest, cable_id: int, plan_id: int) -> HttpResponse:
    """Stop looking for better and keep the best so far."""
    stop_plan(site=request.site, plan=_plan(request, _cable(request, cable_id), plan_id))
    return redirect("cut_plan_cable", request.site.slug, cable_id)


@needs(PLAN)
@post_only("cut_plan_cable", "cable_id")
def cancel(request: SiteRequest, cable_id: int, plan_id: int) -> HttpResponse:
    """Drop a plan."""
    plan = _plan(request, _cable(request, cable_id), plan_id)
    try:
        cancel_plan(site=request.site, plan=plan, by=request.user)
    except PlanError as error:
        messages.error(request, f"Nothing was dropped. {error}")
    else:
        messages.success(request, f"Plan {plan.pk} is dropped. What was cut stays recorded.")
    return redirect("cut_plan_cable", request.site.slug, cable_id)


@needs(SEE)
def compare(request: SiteRequest, cable_id: int) -> HttpResponse:
    """Show two plans of a cable beside each other; without a choice, the two newest."""
    found = _cable(request, cable_id)
    plans = [plan for plan in plans_of(request.site, found) if plan.state in ANSWERED]
    chosen = request.GET if {"one", "other"} & request.GET.keys() else None
    if chosen is None and len(plans) > 1:
        chosen = {"one": plans[1].pk, "other": plans[0].pk}  # type: ignore[assignment]  # what a form reads
    form = CompareForm(chosen, plans=plans)
    by_key, both = {plan.pk: plan for plan in plans}, None
    if form.is_valid():
        asked = form.cleaned_data
        both = compare_page(
            request.site, found, by_key[asked["one"]], by_key[asked["other"]], page=request.GET.get("page", "1")
        )
    context = {"cable": found, "form": form, "both": both, "plans": plans}
    status = 422 if form.is_bound and not both else 200
    return render(request, "reels/plans/compare.html", context, status=status)


@needs(SEE)
def crew_list(request: SiteRequest, cable_id: int) -> HttpResponse:
    """Show the crew's cut list, by reel or by run, to read or to print."""
    found, by_run, key = _cable(request, cable_id), request.GET.get("by") == "run", _asked_plan(request)
    plan = None if key is None else _plan(request, found, key)
    if plan is not None and plan.state not in ANSWERED:
        raise Http404("no list of such a plan")
    page = request.GET.get("page", "1")
    shown = crew_page(request.site, found, plan=plan, by_run=by_run, page=page)
    context = {
        "cable": found,
        "page": shown,
        "by_run": by_run,
        "all": page == "all",
        "asked": key,
        "may_plan": may(request.roles, PLAN),
    }
    return render(request, "reels/plans/list.html", context)


@needs(PLAN)
@post_only("cut_list", "cable_id")
def choose(request: SiteRequest, cable_id: int, run_id: int) -> HttpResponse:
    """Let a run's cable be cut to the drawing, or only once it is measured."""
    found, run = _cable(request, cable_id), Run.objects.of(request.site).filter(pk=run_id).first()
    if run is None:
        raise Http404("no such run")
    form = ChoiceForm(request.POST)
    if form.is_valid():
        row = {"id": str(uuid4()), "run": run, "at": timezone.now(), **form.cleaned_data}
        keep_one(site=request.site, kind="length_choices", row=row, sender=request.user)
        messages.success(request, f"Kept. {run}: {LengthChoice.Way(form.cleaned_data['way']).label.lower()}.")
    else:
        told = " ".join(str(each) for errors in form.errors.values() for each in errors)
        messages.error(request, f"Nothing was changed. {told}")
    response = redirect("cut_list", request.site.slug, found.pk)
    response["Location"] += "?by=run"
    return response


@needs(SEE)
def headroom(request: SiteRequest, cable_id: int) -> HttpResponse:
    """Show how much longer each run could turn out before the reels stop covering all of them."""
    found = _cable(request, cable_id)
    page = room_page(request.site, found, harder=request.GET.get("run", ""))
    context = {"cable": found, "page": page, "proofs": reads_proofs(request.roles)}
    return render(request, "reels/plans/headroom.html", context)


def _cable_page(request: SiteRequest, found: Cable, form: AskForm | None, status: int = 200) -> HttpResponse:
    page = cable_page(
        request.site,
        found,
        plan_id=_asked_plan(request),
        page=request.GET.get("page", "1"),
        text=request.GET.get("find", "").strip(),
    )
    if page is None:
        raise Http404("no such plan")
    like = AskForm.like(page.shown.plan if page.shown else None, site=request.site)
    context = {
        "page": page,
        "cable": found,
        "shown": page.shown,
        "form": form or like,
        "same_rates": [like[name] for name in ("rate_whole", "rate_remnant", "rate_setup", "reels", "seconds")],
        "may_plan": may(request.roles, PLAN),
        "proofs": reads_proofs(request.roles),
        "find": request.GET.get("find", "").strip(),
    }
    if page.row.working:
        context |= _progress(request, page.row.working)
    return render(request, "reels/plans/cable.html", context, status=status)


def _progress(request: SiteRequest, plan: CutPlan) -> dict[str, object]:
    stage, seconds = elapsed(plan)
    return {
        "working": plan,
        "stage": stage,
        "seconds": seconds,
        "so_far": level_words(plan, request.site),
    }


def _to_plan(request: SiteRequest, plan: CutPlan) -> HttpResponse:
    response = redirect("cut_plan_cable", request.site.slug, plan.cable_id)
    response["Location"] += f"?plan={plan.pk}"
    return response


def _asked_plan(request: SiteRequest) -> int | None:
    """Return the key of the plan that the address asks for, None when it asks for none."""
    asked = request.GET.get("plan")
    if asked is None:
        return None
    if not (asked.isascii() and asked.isdigit() and len(asked) <= MOST_DIGITS):
        raise Http404("no such plan")
    return int(asked)


def _cable(request: SiteRequest, cable_id: int) -> Cable:
    found = find_cable(request.site, cable_id)
    if found is None:
        raise Http404("no such cable")
    return found


def _plan(request: SiteRequest, found: Cable, plan_id: int) -> CutPlan:
    plan = find_plan(request.site, found, plan_id)
    if plan is None:
        raise Http404("no such plan")
    return plan
