"""What is on the way between sites."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from kits.transfers.queries import on_the_way_from, on_the_way_to
from takeoff.people.permissions import STORE, SiteRequest, needs


@needs(STORE)
def transit(request: SiteRequest) -> HttpResponse:
    """Show what other sites have sent here, to be taken in, and what is on the way from here."""
    context = {"coming": on_the_way_to(request.site), "leaving": on_the_way_from(request.site)}
    return render(request, "kits/transfers/transit.html", context)
