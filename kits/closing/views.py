"""Closing a site or a run: what is left, what is sent back, what was used, what is still open."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from kits.closing.closing_sheet import closing_workbook
from kits.closing.errors import FiguresMovedError
from kits.closing.pages import ClosingPage, closing_page
from kits.closing.services import figures_of, take_over_prior
from takeoff.people.permissions import PLAN, SEE, SEE_PRICES, SiteRequest, may, needs
from takeoff.runs.models import Run
from takeoff.sheets.files.sheet_writer import XLSX
from takeoff.units.shown import written_as_in


@needs(SEE)
def close_out(request: SiteRequest) -> HttpResponse:
    """Show what is left of a site, what it used against plan, and what is still open; it prints."""
    page = _page(request)
    fitted = [(one, figures_of(one.refit.prior) if one.refit.prior else "") for one in page.items.priors]
    return _shown(request, page, priors=fitted, may_plan=may(request.roles, PLAN))


@needs(SEE)
def close_run(request: SiteRequest, run_id: int) -> HttpResponse:
    """Show the same of one run."""
    return _shown(request, _page(request, run_id))


@needs(SEE)
def workbook(request: SiteRequest) -> HttpResponse:
    """Give out the close-out of a site as a workbook."""
    return _written(request, _page(request))


@needs(SEE)
def run_workbook(request: SiteRequest, run_id: int) -> HttpResponse:
    """Give out the close-out of one run as a workbook."""
    return _written(request, _page(request, run_id))


@needs(PLAN)
def take_over(request: SiteRequest) -> HttpResponse:
    """Believe of a class of use what its finished stages say, as it was seen."""
    if request.method != "POST":
        return redirect("close_out", request.site.slug)
    usage = request.POST.get("usage", "")
    try:
        take_over_prior(site=request.site, usage=usage, seen=request.POST.get("seen", ""))
        messages.success(request, f"The next takeoff counts with these figures for {usage}.")
    except FiguresMovedError as error:
        messages.error(request, str(error))
    return redirect("close_out", request.site.slug)


def _page(request: SiteRequest, run_id: int | None = None) -> ClosingPage:
    run = get_object_or_404(Run.objects.of(request.site), pk=run_id) if run_id else None
    return closing_page(request.site, run, crews=may(request.roles, PLAN))


def _shown(request: SiteRequest, page: ClosingPage, **more: object) -> HttpResponse:
    context = {"page": page, "run": page.run, "prices": may(request.roles, SEE_PRICES), **more}
    return render(request, "kits/closing/closing.html", context)


def _written(request: SiteRequest, page: ClosingPage) -> HttpResponse:
    with written_as_in(""):  # it leaves the site
        content = closing_workbook(page, prices=may(request.roles, SEE_PRICES))
    response = HttpResponse(content, content_type=XLSX)
    part = f"run-{page.run.pk}" if page.run else page.site.slug
    response["Content-Disposition"] = f'attachment; filename="close-out-{part}-{page.as_of.isoformat()}.xlsx"'
    return response
