"""Handing out: stages to serve, the pick list of one with what comes back, and who owes whom."""

from __future__ import annotations

from collections import defaultdict

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from kits.issuing.forms import NameForm, StageChoice
from kits.issuing.leftovers import leftovers
from kits.issuing.pages import pick_list, stages_to_serve
from kits.issuing.queries import debts
from takeoff.people.permissions import HAND_OUT, SEE, SiteRequest, needs
from takeoff.people.sending import post_only
from takeoff.people.services import add_name
from takeoff.runs.models import Run
from takeoff.sites.models import StageName
from takeoff.sites.queries import offered_bins


@needs(HAND_OUT)
def hand_out(request: SiteRequest) -> HttpResponse:
    """Show the stages that are to be served soon, and let any other be chosen."""
    form = StageChoice(request.GET or None, site=request.site)
    if form.is_valid():
        return redirect("pick_list", request.site.slug, form.cleaned_data["run"], form.cleaned_data["stage"])
    context = {"stages": stages_to_serve(request.site), "form": form, "today": request.site.today()}
    context["left"] = leftovers(request.site)
    return render(request, "kits/issuing/hand_out.html", context)


@needs(HAND_OUT)
def pick(request: SiteRequest, run_id: int, stage: str) -> HttpResponse:
    """Show what a stage still needs by the place where it lies, what it lacks, and what of it may come back."""
    if stage not in StageName.values:
        raise Http404("no such stage")
    run = get_object_or_404(Run.objects.of(request.site), pk=run_id)
    context = {"page": pick_list(request.site, run, stage), "bins": offered_bins(request.site)}
    return render(request, "kits/issuing/pick.html", context)


@needs(HAND_OUT)
@post_only("hand_out")
def name(request: SiteRequest) -> HttpResponse:
    """Let forms offer the name of a crew, or of somebody without an account."""
    form = NameForm(request.POST)
    if form.is_valid():
        add_name(site=request.site, name=form.cleaned_data["name"])
        messages.success(request, f"{form.cleaned_data['name']} is offered from now on.")
    else:
        messages.error(request, "A name has 1 to 60 letters and no comma.")
    return redirect("hand_out", request.site.slug)


@needs(SEE)
def owed(request: SiteRequest) -> HttpResponse:
    """Show what runs owe each other."""
    by_borrower = defaultdict(list)
    for debt in debts(request.site):
        by_borrower[debt.borrower].append(debt)
    return render(request, "kits/issuing/debts.html", {"debts": dict(by_borrower)})
