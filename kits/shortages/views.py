"""The list of shortages, what one is made of, and the workbooks to order from."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render

from kits.shortages import pages
from kits.shortages.forms import ShortageFilter
from kits.shortages.tables import ShortageTable
from takeoff.sites.permissions import ORDER, SEE, SEE_PRICES, SiteRequest, may, needs
from takeoff.sites.tables import shown_page

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@needs(SEE)
def shortages(request: SiteRequest) -> HttpResponse:
    """Show what will run out, by the day to order it."""
    found = pages.short_list(request.site, everything="everything" in request.GET)
    asked = ShortageFilter(request.GET, rows=found.rows)
    hidden = () if may(request.roles, SEE_PRICES) else ("cost",)
    table = shown_page(request, ShortageTable(asked.narrowed(found.rows), site=request.site, exclude=hidden))
    context = {"table": table, "filter": {"form": asked}, "found": found, "order": may(request.roles, ORDER)}
    return render(request, "kits/shortages/shortages.html", context)


@needs(SEE)
def shortage(request: SiteRequest, item_id: int) -> HttpResponse:
    """Show one line: its causes, its balance over time and the runs behind it."""
    page = pages.shortage_page(request.site, item_id)
    if page is None:
        raise Http404("no such item")
    context = {"page": page, "line": page.line, "prices": may(request.roles, SEE_PRICES)}
    return render(request, "kits/shortages/shortage.html", context)


@needs(ORDER)
def workbook(request: SiteRequest, supplier_id: int) -> HttpResponse:
    """Give out the workbook of what one supplier is to send; 0 stands for items that name no supplier."""
    made = pages.workbook_of(request.site, supplier_id)
    if made is None:
        raise Http404("nothing to order there")
    name, content = made
    response = HttpResponse(content, content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
