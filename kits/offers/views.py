"""Offers of suppliers, by item."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from kits.offers.pages import offers_page
from takeoff.people.permissions import SEE_PRICES, SiteRequest, needs


@needs(SEE_PRICES)
def offers(request: SiteRequest) -> HttpResponse:
    """Show what suppliers offer for each item side by side, which offer to take, and prices over time."""
    return render(request, "kits/offers/offers.html", {"items": offers_page(request.site)})
