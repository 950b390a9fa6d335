"""The list of runs."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from takeoff.people.permissions import SEE, SiteRequest, needs
from takeoff.people.tables import shown_page
from takeoff.runs import pages
from takeoff.runs.forms import RunFilter
from takeoff.runs.tables import RunTable


@needs(SEE)
def runs(request: SiteRequest) -> HttpResponse:
    """Show the runs of a site, filtered and sorted."""
    narrowed = RunFilter(request.GET, queryset=pages.run_list(request.site), site=request.site)
    table = shown_page(request, RunTable(narrowed.qs, site=request.site))
    return render(request, "takeoff/runs/runs.html", {"table": table, "filter": narrowed})
