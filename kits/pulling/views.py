"""The foreman's pages: sets with everything here, a run before it is pulled."""

from __future__ import annotations

import hashlib
import json

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.cache import get_conditional_response

from kits.pulling import pages
from kits.pulling.bundle import at_the_reels
from kits.pulling.paper import paper_of
from reels.ledger.queries import hands_of
from takeoff.people.permissions import CUT, SEE, SiteRequest, machine, may, needs
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


@machine
@needs(SEE)
def bundle(request: SiteRequest, run_id: int) -> HttpResponseBase:
    """Return what a phone needs to cut a run without signal; nothing where it has that already."""
    said = json.dumps(at_the_reels(request.site, _run(request, run_id)).as_json, separators=(",", ":"))
    tag = f'"{hashlib.sha256(said.encode()).hexdigest()[:32]}"'
    answer = HttpResponse(said, content_type="application/json", headers={"ETag": tag, "Cache-Control": "no-cache"})
    return get_conditional_response(request, etag=tag, response=answer) or answer


@needs(CUT)
def stand(request: SiteRequest, run_id: int) -> HttpResponse:
    """Show the reels of a run side by side: what comes off each next, and where to cut."""
    found = at_the_reels(request.site, _run(request, run_id))
    return render(
        request, "kits/pulling/stand.html", {"stand": found, "run": found.run, "hands": hands_of(request.site)}
    )


@needs(SEE)
def on_paper(request: SiteRequest, run_id: int) -> HttpResponse:
    """Show what is to cut of a run, reel by reel, with blanks to write into on paper."""
    found = at_the_reels(request.site, _run(request, run_id))
    context = {"reels": paper_of(found), "run": found.run, "stand": found, "may_cut": may(request.roles, CUT)}
    return render(request, "kits/pulling/list.html", context)


@needs(CUT)
def enter(request: SiteRequest, run_id: int) -> HttpResponse:
    """Show the lines of that paper as a grid, to write down at a desk what was cut."""
    found = at_the_reels(request.site, _run(request, run_id))
    return render(request, "kits/pulling/enter.html", {"reels": paper_of(found), "run": found.run})


def _run(request: SiteRequest, run_id: int) -> Run:
    found = pages.find_run(request.site, run_id)
    if found is None:
        raise Http404("no such run")
    return found
