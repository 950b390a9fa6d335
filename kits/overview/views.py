"""Today, the list of runs, and the page of one run with what is reported and set on it."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from kits.claims.queries import still_open
from kits.gang_boxes.pages import boxes
from kits.overview import run_page, services
from kits.overview.forms import AsBuiltForm, OverrideForm, StageForm, UseForm
from kits.overview.run_figures import by_run, run_figures
from kits.overview.store_figures import store_figures
from kits.overview.tables import RunTable
from kits.overview.today import due
from kits.pulling.pages import to_pull
from kits.reorders.pages import sections_due
from kits.shortages.queries import reconcile
from kits.shortages.reckon.arrivals import stage_lines
from reels.field.doubts import doubts_page
from takeoff.people.permissions import CLAIM, HAND_OUT, MEASURE, ORDER, PLAN, SEE, STORE, SiteRequest, may, needs
from takeoff.people.sending import post_only
from takeoff.people.tables import shown_page
from takeoff.records.answers import question_of
from takeoff.records.queries import waiting
from takeoff.records.terms.errors import RecordError
from takeoff.rules.services import overrule, withdraw_override
from takeoff.runs.forms import RunFilter
from takeoff.runs.models import Run
from takeoff.runs.pages import run_list
from takeoff.runs.queries import run_facts
from takeoff.sites.models import StageName
from takeoff.units.exact import to_ticks
from takeoff.units.shown import day_month_year, near


@needs(SEE)
def today(request: SiteRequest) -> HttpResponse:
    """Show what is due, the role's own work first."""
    reconciled = reconcile(request.site)
    found = due(reconciled, request.roles, to_pull(request.site, reconciled))
    claims, to_claim = still_open(request.site)
    context = {"due": found, "runs": run_page.run_ids(request.site), "claims": claims, "to_claim": to_claim}
    context["may_claim"] = may(request.roles, CLAIM)
    context["waiting"] = waiting(request.site).count()
    context["order_sections"] = sections_due(request.site) if may(request.roles, ORDER) else ()
    context["may_order"] = may(request.roles, ORDER)
    context["doubts"] = len(doubts_page(request.site).open)
    context["store"] = store_figures(request.site) if may(request.roles, STORE) else None
    context["boxes"] = [box for box in boxes(request.site) if box.due] if may(request.roles, HAND_OUT) else []
    return render(request, "kits/overview/today.html", context)


@needs(SEE)
def runs(request: SiteRequest) -> HttpResponse:
    """Show the runs of a site, filtered and sorted, with what their next stages lack."""
    narrowed = RunFilter(request.GET, queryset=run_list(request.site), site=request.site)
    found = reconcile(request.site)
    stages = by_run(stage_lines(found.readiness, found.lines))
    table = shown_page(request, RunTable(narrowed.qs, site=request.site, stages=stages))
    context = {"table": table, "filter": narrowed, "figures": run_figures(stages.values()) if stages else None}
    return render(request, "kits/overview/runs.html", context)


@needs(SEE)
def run(request: SiteRequest, run_id: int) -> HttpResponse:
    """Show one run: its drawing, lengths, takeoff, kits, cable and readiness."""
    found = _run(request, run_id)
    return _run_page(request, found, AsBuiltForm(site=request.site, facts=run_facts(found)))


@needs(SEE)
def takeoff_line(request: SiteRequest, run_id: int, line_id: int) -> HttpResponse:
    """Show how a quantity of a run comes about; its page, or the working alone for a place in the run's page."""
    page = _line(request, run_id, line_id)
    initial = {"quantity": page.override.quantity, "reason": page.override.reason} if page.override else {}
    return _line_page(request, page, OverrideForm(initial=initial, site=request.site))


@needs(PLAN)
@post_only("takeoff_line", "run_id", "line_id")
def set_quantity(request: SiteRequest, run_id: int, line_id: int) -> HttpResponse:
    """Let the drawing package's quantity count in place of the computed one."""
    page = _line(request, run_id, line_id)
    form = OverrideForm(request.POST, site=request.site)
    if not form.is_valid():
        return _line_page(request, page, form, status=422)
    overrule(run=page.run, item=page.line.item, stage=page.line.stage, by=request.user, **form.cleaned_data)
    messages.success(request, f"{page.line.item} of {page.run} is set by the drawing package.")
    return redirect("run", request.site.slug, run_id)


@needs(PLAN)
@post_only("takeoff_line", "run_id", "line_id")
def count_as_computed(request: SiteRequest, run_id: int, line_id: int) -> HttpResponse:
    """Let the computed quantity count again."""
    page = _line(request, run_id, line_id)
    if page.override is not None:
        withdraw_override(override=page.override)
        messages.success(request, f"{page.line.item} of {page.run} counts as computed again.")
    return redirect("run", request.site.slug, run_id)


@needs(MEASURE)
@post_only("run", "run_id")
def report_length(request: SiteRequest, run_id: int) -> HttpResponse:
    """Keep the measured centre line of a run or of a section."""
    found = _run(request, run_id)
    form = AsBuiltForm(request.POST, site=request.site, facts=run_facts(found))
    if not form.is_valid():
        return _run_page(request, found, form, status=422)
    services.report_length(site=request.site, run=found, by=request.user, **form.cleaned_data)
    messages.success(request, "The length as built is kept. Cut lengths and quantities follow it.")
    return redirect("run", request.site.slug, run_id)


@needs(MEASURE)
@post_only("run", "run_id")
def take_back(request: SiteRequest, run_id: int, measurement_id: int) -> HttpResponse:
    """Take a measured length back."""
    found = _run(request, run_id)
    taken = services.take_back_length(site=request.site, run=found, measurement_id=measurement_id, by=request.user)
    if taken is None:
        messages.warning(request, "Nothing was changed: that length was taken back already.")
    else:
        what = "the whole run" if taken.section_seq is None else f"section {taken.section_seq}"
        length = near(to_ticks(taken.length), request.site.unit)
        day = f"{request.site.local_date(taken.at):%Y-%m-%d}"
        messages.success(
            request, f"Taken back: {length} of {what}, measured {day}. Cut lengths and quantities follow the rest."
        )
    return redirect("run", request.site.slug, run_id)


@needs(MEASURE)
@post_only("run", "run_id")
def report_stage(request: SiteRequest, run_id: int) -> HttpResponse:
    """Keep when a stage is planned and was done; what does not fit together is asked about first."""
    found, site = _run(request, run_id), request.site
    form = StageForm(request.POST, site=site)
    if not form.is_valid():
        messages.error(request, f"Nothing was changed. {form.wrong}")
        return redirect("run", site.slug, run_id)
    asked, stage, done = form.cleaned_data, StageName(form.cleaned_data["stage"]), form.cleaned_data["done"]
    said = run_page.stage_questions(site, found, stage.value) if done else ()
    if said and request.POST.get("confirmed") != question_of(said):
        context = {"asked": form, "stage_label": stage.label, "said": said, "question": question_of(said)}
        return _run_page(request, found, AsBuiltForm(site=site, facts=run_facts(found)), status=422, **context)
    services.report_stage(site=site, run=found, stage=stage.value, done=done, by=request.user)
    if "planned" in request.POST:
        services.plan_stage(site=site, run=found, stage=stage.value, planned=asked["planned"])
    told = f"done on {day_month_year(done)}" if done else "open"
    messages.success(request, f"{stage.label} of {found}: {told}. It is kept.")
    remark = run_page.stage_remark(site, found, stage.value)
    if remark:
        messages.warning(request, f"{stage.label} of {found}: {remark}.")
    return redirect("run", site.slug, run_id)


@needs(MEASURE)
@post_only("run", "run_id")
def take_back_stage(request: SiteRequest, run_id: int) -> HttpResponse:
    """Take back that a stage is done."""
    found, stage = _run(request, run_id), request.POST.get("stage", "")
    if services.take_back_stage(site=request.site, run=found, stage=stage, by=request.user):
        messages.success(request, f"Taken back: {StageName(stage).label.lower()} of {found} done. Both stay on record.")
    else:
        messages.warning(request, "Nothing was changed: that stage is open already.")
    return redirect("run", request.site.slug, run_id)


@needs(HAND_OUT)
@post_only("run", "run_id")
def answer_use(request: SiteRequest, run_id: int) -> HttpResponse:
    """Keep what a stage that is done with nothing handed out has used."""
    found = _run(request, run_id)
    form = UseForm(request.POST, site=request.site)
    if not form.is_valid():
        messages.error(request, f"Nothing was kept. {form.wrong}")
        return redirect("run", request.site.slug, run_id)
    items = {item.pk for item in form.cleaned_data["item"]}
    try:
        told = services.answer_use(
            site=request.site,
            run=found,
            stage=form.cleaned_data["stage"],
            items=items,
            quantity=form.used,
            nothing=form.nothing,
            by=request.user,
        )
    except RecordError as error:
        messages.error(request, f"Nothing was kept. {error} Count what lies there first, or say how much was used.")
    else:
        what = "nothing used" if form.nothing else "handed out"
        messages.success(request, f"{len(told)} item{'s' * (len(told) != 1)}: {what}. It is kept.")
    return redirect("run", request.site.slug, run_id)


def _run_page(request: SiteRequest, found: Run, form: AsBuiltForm, status: int = 200, **more: object) -> HttpResponse:
    """Return the page of a run with the form of its length as built."""
    context = {
        "page": run_page.run_page(request.site, found, request.GET.get("conductor", "")),
        "run": found,
        "measure": may(request.roles, MEASURE),
        "hand_out": may(request.roles, HAND_OUT),
        "plan": may(request.roles, PLAN),
        "as_built": form,
        **more,
    }
    return render(request, "kits/overview/run.html", context, status=status)


def _line_page(request: SiteRequest, page: run_page.LinePage, form: OverrideForm, status: int = 200) -> HttpResponse:
    """Return the page of a takeoff line, or its working alone for a place in the run's page."""
    context = {"page": page, "run": page.run, "line": page.line, "form": form, "plan": may(request.roles, PLAN)}
    template = "kits/overview/working.html" if request.htmx else "kits/overview/line.html"
    response = render(request, template, context, status=status)
    response["Vary"] = "HX-Request"
    return response


def _line(request: SiteRequest, run_id: int, line_id: int) -> run_page.LinePage:
    page = run_page.line_page(request.site, _run(request, run_id), line_id)
    if page is None:
        raise Http404("no such line")
    return page


def _run(request: SiteRequest, run_id: int) -> Run:
    found = run_page.find_run(request.site, run_id)
    if found is None:
        raise Http404("no such run")
    return found
