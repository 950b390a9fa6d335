"""The foreman's pages: sets with everything here, a run before it is pulled."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render

from kits.pulling import pages
from takeoff.people.permissions import CUT, SEE, SiteRequest, may, needs
from takeoff.runs.models import Run


@needs(SEE)
def sets(request: SiteRequest) -> HttpResponse:
    """Show the sets that are to be pulled: those with everything here first."""
    found = pages.sets_page(request.site)
    here = [row for row in found if row[0].all_here]
    context = {"here": here, "others": [row for row in found if not row[0].all_here], "today": request.site.today()}
    return render(request, "kits/pulling/sets.html", context)


@needs(SEE)
def run(request: SiteRequest, run_id: int) -> HttpResponse:
    """Show a run before it is pulled: its bundle, the order, which reels to bring."""
    found = _run(request, run_id)
    context = {"page": pages.pull_page(request.site, found), "run": found, "may_cut": may(request.roles, CUT)}
    return render(request, "kits/pulling/run.html", context | {"today": request.site.today()})


def _run(request: SiteRequest, run_id: int) -> Run:
    found = pages.find_run(request.site, run_id)
    if found is None:
        raise Http404("no such run")
    return found
