"""The list of shortages, and what one is made of."""

from __future__ import annotations

from functools import partial

from django.http import Http404, HttpResponse
from django.shortcuts import render

from kits.shortages import pages
from kits.shortages.forms import ShortageFilter
from kits.shortages.tables import ShortageTable
from takeoff.people.permissions import ORDER, SEE, SEE_PRICES, SiteRequest, may, needs, reads_proofs
from takeoff.people.tables import shown_page


@needs(SEE)
def shortages(request: SiteRequest) -> HttpResponse:
    """Show what will run out, by the day to order it."""
    found = pages.short_list(request.site, everything="everything" in request.GET)
    asked = ShortageFilter(request.GET, rows=found.rows)
    prices, may_order = may(request.roles, SEE_PRICES), may(request.roles, ORDER)
    make = partial(ShortageTable, site=request.site, prices=prices, may_order=may_order)
    blocks = [(act, shown_page(request, make(rows, act=act))) for act, rows in pages.by_act(asked.narrowed(found.rows))]
    context = {
        "blocks": blocks,
        "filter": {"form": asked},
        "found": found,
        "order": may_order,
        "prices": prices,
    }
    return render(request, "kits/shortages/shortages.html", context)


@needs(SEE)
def shortage(request: SiteRequest, item_id: int) -> HttpResponse:
    """Show one line: its causes, its balance over time and the runs behind it."""
    page = pages.shortage_page(request.site, item_id)
    if page is None:
        raise Http404("no such item")
    context = {"page": page, "line": page.line, "prices": may(request.roles, SEE_PRICES)}
    context["may_order"] = may(request.roles, ORDER)
    context["proofs"] = reads_proofs(request.roles)
    return render(request, "kits/shortages/shortage.html", context)
