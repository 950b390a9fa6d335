"""The workbooks to order from."""

from __future__ import annotations

from django.http import Http404, HttpResponse

from kits.reorders import queries
from takeoff.people.permissions import ORDER, SiteRequest, needs
from takeoff.sheets.files.sheet_writer import XLSX
from takeoff.units.shown import written_as_in


@needs(ORDER)
def workbook(request: SiteRequest, supplier_id: int) -> HttpResponse:
    """Give out the workbook of what one supplier is to send; 0 stands for items that name no supplier."""
    with written_as_in(""):  # it leaves the site
        made = queries.workbook_of(request.site, supplier_id)
    if made is None:
        raise Http404("nothing to order there")
    name, content = made
    response = HttpResponse(content, content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
