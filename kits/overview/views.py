"""Today, and the page of one run."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from takeoff.sites.permissions import SEE, SiteRequest, needs


@needs(SEE)
def today(request: SiteRequest) -> HttpResponse:
    """Show what is due."""
    return render(request, "kits/overview/today.html", {})


@needs(SEE)
def run(request: SiteRequest, run_id: int) -> HttpResponse:
    """Show one run."""
    return render(request, "kits/overview/run.html", {})
