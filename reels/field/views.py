"""Reels: the list, one reel with all that is known of it, cable to be found, and what there is to look at."""

from __future__ import annotations

from uuid import uuid4

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from reels.field.doubts import doubts_page
from reels.field.find_cable import FindCableForm
from reels.field.forms import ActForm
from reels.field.one_act import keep_act
from reels.field.reel_list import ReelFilter, reel_rows, shown_entries
from reels.field.reel_page import find_reel, reel_page
from reels.ledger.models import Reel
from takeoff.people.permissions import CUT, PLAN, SEE, SiteRequest, may, needs
from takeoff.people.queries import memberships
from takeoff.people.sending import post_only


@needs(SEE)
def reels(request: SiteRequest) -> HttpResponse:
    """Show the reels of a site, each with what is left on it."""
    narrowed = ReelFilter(request.GET, queryset=reel_rows(request.site), site=request.site)
    part, entries = shown_entries(request.site, narrowed.qs, request.GET.get("page", "1"))
    here = Reel.objects.of(request.site).filter(state=Reel.State.ON_SITE).count()
    context = {"filter": narrowed, "part": part, "entries": entries, "here": here}
    return render(request, "reels/field/reels.html", context)


@needs(SEE)
def reel(request: SiteRequest, reel_id: int) -> HttpResponse:
    """Show one reel: its strip in marks, what is left and by which figure, what comes next, its history."""
    found = _reel(request, reel_id)
    context = {"page": reel_page(request.site, found), "reel": found}
    context |= {"may_cut": may(request.roles, CUT), "label": f"r{found.pk}"}
    context["takes_off"] = found.state in {Reel.State.ON_SITE, Reel.State.HELD}
    return render(request, "reels/field/reel.html", context)


@needs(SEE)
def find(request: SiteRequest) -> HttpResponse:
    """Find so many pieces of one length over the sites that the person may see."""
    sites = [each.site for each in memberships(request.user)]
    form = FindCableForm(request.GET if "size" in request.GET else None, site=request.site, sites=sites)
    answer = form.answer(sites) if form.is_valid() else None
    context = {"form": form, "answer": answer, "sites": sites}
    return render(request, "reels/field/find.html", context, status=422 if form.errors else 200)


@needs(SEE)
def doubts(request: SiteRequest) -> HttpResponse:
    """Show all there is to look at about reels and cuts."""
    return _doubts(request, None)


@needs(PLAN)
@post_only("reel_doubts")
def seen(request: SiteRequest) -> HttpResponse:
    """Keep that a doubt was seen, and why it stays as it is."""
    form = _seen_form(request, request.POST.get("doubt", ""), 0, bound=True)
    return redirect("reel_doubts", request.site.slug) if keep_act(request, form) else _doubts(request, form)


def _doubts(request: SiteRequest, wrong: ActForm | None) -> HttpResponse:
    page, settles = doubts_page(request.site), may(request.roles, PLAN)
    forms = {}
    if settles:
        for number, doubt in enumerate(page.open):
            mine = wrong is not None and wrong.known["doubt"] == doubt.key
            forms[doubt.key] = wrong if mine else _seen_form(request, doubt.key, number)
    context = {"page": page, "forms": forms}
    return render(request, "reels/field/doubts.html", context, status=422 if wrong else 200)


def _seen_form(request: SiteRequest, key: str, number: int, *, bound: bool = False) -> ActForm:
    return ActForm(
        request.POST if bound else None,
        site=request.site,
        kind="doubts_seen",
        known={"doubt": key},
        leave_out=("at", "by"),
        initial={"id": str(uuid4())},
        auto_id=f"seen-{number}-%s",
    )


def _reel(request: SiteRequest, reel_id: int) -> Reel:
    found = find_reel(request.site, reel_id)
    if found is None:
        raise Http404("no such reel")
    return found
