"""Stock by item and by place."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from kits.stock import pages
from kits.stock.forms import PlaceFilter, StockFilter
from kits.stock.tables import MoveTable, PlaceTable, StockTable
from takeoff.people.permissions import SEE, SEE_PRICES, SiteRequest, may, needs
from takeoff.people.tables import shown_page


@needs(SEE)
def stock(request: SiteRequest) -> HttpResponse:
    """Show every item with what is here of it."""
    narrowed = StockFilter(request.GET, queryset=pages.stock_list(request.site), site=request.site)
    table = shown_page(request, StockTable(narrowed.qs, site=request.site))
    return render(request, "kits/stock/stock.html", {"table": table, "filter": narrowed})


@needs(SEE)
def places(request: SiteRequest) -> HttpResponse:
    """Show every place with how much it holds."""
    narrowed = PlaceFilter(request.GET, queryset=pages.place_list(request.site))
    table = shown_page(request, PlaceTable(narrowed.qs, site=request.site))
    return render(request, "kits/stock/places.html", {"table": table, "filter": narrowed})


@needs(SEE)
def place(request: SiteRequest, place_id: int) -> HttpResponse:
    """Show what lies at a place."""
    found = get_object_or_404(pages.place_list(request.site), pk=place_id)
    lying = pages.lying_at(request.site, place=found)
    return render(request, "kits/stock/place.html", {"place": found, "lying": lying})


@needs(SEE)
def item(request: SiteRequest, item_id: int) -> HttpResponse:
    """Show where an item lies, what it is, and its moves."""
    found = get_object_or_404(pages.stock_list(request.site), pk=item_id)
    moves = shown_page(request, MoveTable(pages.moves_of(request.site, found), site=request.site))
    lying = pages.lying_at(request.site, item=found)
    prices = may(request.roles, SEE_PRICES)
    return render(request, "kits/stock/item.html", {"item": found, "lying": lying, "table": moves, "prices": prices})
