"""Loading sheets on the web: upload, look, confirm. The same way in as the command `load`."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from takeoff.people.permissions import PLAN, SiteRequest, needs
from takeoff.people.sending import post_only
from takeoff.sheets.files.blank import empty_workbook
from takeoff.sheets.files.sources import SourceError
from takeoff.sheets.registry import tables
from takeoff.uploads import services
from takeoff.uploads.forms import ConfirmForm, UploadForm

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@needs(PLAN)
def load_sheets(request: SiteRequest) -> HttpResponse:
    """Take files, keep them apart, and check them."""
    form = UploadForm(request.POST, request.FILES) if request.method == "POST" else UploadForm()
    if request.method == "POST" and form.is_valid():
        try:
            upload = services.keep(site=request.site, user=request.user, files=form.cleaned_data["chosen"])
        except SourceError as error:
            form.add_error("chosen", f"Nothing was kept: {error}.")
        else:
            services.set_to_work(upload, loading=False)
            return redirect("upload", request.site.slug, upload.token)
    status = 422 if form.errors else 200
    return render(request, "takeoff/uploads/load.html", {"form": form, "tables": tables()}, status=status)


@needs(PLAN)
def upload(request: SiteRequest, token: UUID) -> HttpResponse:
    """Show how far an upload is: at work, checked, refused, loaded."""
    return _shown(request, _found(request, token), ConfirmForm())


@needs(PLAN)
@post_only("upload", "token")
def confirm(request: SiteRequest, token: UUID) -> HttpResponse:
    """Load an upload that was checked and looked at."""
    found = _found(request, token)
    form = ConfirmForm(request.POST)
    if found.state == services.CHECKED:
        if found.result["asks"] and not form.is_valid():
            return _shown(request, found, form, status=422)
        services.set_to_work(found, loading=True)
    return redirect("upload", request.site.slug, token)


@needs(PLAN)
def empty_tables(request: SiteRequest, table: str = "") -> HttpResponse:
    """Give out a workbook with empty tables, or one of them, to fill in."""
    chosen = [each for each in tables() if table in {"", each.name}]
    if not chosen:
        raise Http404("no such table")
    response = HttpResponse(empty_workbook(chosen, request.site.unit), content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="{table or "sheets"}.xlsx"'
    return response


def _found(request: SiteRequest, token: UUID) -> services.Upload:
    found = services.find(site=request.site, user=request.user, token=token)
    if found is None:
        raise Http404("no such upload")
    return found


def _shown(request: SiteRequest, found: services.Upload, form: ConfirmForm, status: int = 200) -> HttpResponse:
    template = "takeoff/uploads/progress.html" if request.htmx else "takeoff/uploads/upload.html"
    if request.htmx and found.state != services.WORKING:
        # The work is done: the whole page has something new to show.
        response = HttpResponse(status=204)
        response["HX-Refresh"] = "true"
        return response
    response = render(request, template, {"upload": found, "form": form}, status=status)
    response["Vary"] = "HX-Request"
    if found.state == services.WORKING and not request.htmx:
        response["Refresh"] = "3"  # for who has no scripts
    return response
