"""Receiving: the trucks, one shipment with all that is known of it, and one crate as it is counted."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from kits.issuing.awaited import awaited
from kits.receiving.counting.dates import CLAIM_SOURCE
from kits.receiving.pages import crate_page, crate_pages, reels_page, shipment_page, trucks_page
from kits.receiving.report_rows import report_page
from kits.receiving.report_sheet import report_workbook
from kits.shipments.models import Package, Shipment
from reels.ledger.arrived import POINTS
from takeoff.catalogue.models import Cable
from takeoff.people.permissions import CLAIM, GATE, PLAN, SEE, STORE, SiteRequest, may, needs
from takeoff.photos.queries import photos_of
from takeoff.sheets.files.sheet_writer import XLSX
from takeoff.sites.queries import offered_bins


@needs(SEE)
def receiving(request: SiteRequest) -> HttpResponse:
    """Show the trucks: here, to come, done."""
    context = {"trucks": trucks_page(request.site), "may_gate": may(request.roles, GATE), "today": request.site.today()}
    return render(request, "kits/receiving/receiving.html", context)


@needs(SEE)
def found_shipment(request: SiteRequest) -> HttpResponse:
    """Go on to a shipment by its name."""
    found = get_object_or_404(Shipment.objects.of(request.site), name=request.GET.get("shipment", ""))
    return redirect("receiving_shipment", request.site.slug, found.pk)


@needs(SEE)
def shipment(request: SiteRequest, shipment_id: int) -> HttpResponse:
    """Show one shipment: its packages, what is left, how its kits stand, what was not as listed."""
    page = shipment_page(_shipment(request, shipment_id))
    trucks_seen = [("arrivals", arrival.event_id) for arrival in page.arrivals]
    taken = photos_of(request.site, trucks_seen)
    context = {
        "page": page,
        "shipment": page.report.shipment,
        "may_gate": may(request.roles, GATE),
        "may_claim": may(request.roles, CLAIM),
        "may_count": may(request.roles, STORE),
        "may_remove": may(request.roles, PLAN),
        "photos": {record: taken.get((kind, record), []) for kind, record in trucks_seen},
    }
    return render(request, "kits/receiving/shipment.html", context)


@needs(SEE)
def reels(request: SiteRequest) -> HttpResponse:
    """Show the reels of a delivery, each with what is to be read off it when it comes."""
    context = {
        "page": reels_page(request.site, request.GET.get("delivery", "").strip()),
        "points": POINTS,
        "cables": Cable.objects.of(request.site).order_by("code"),
        "may_gate": may(request.roles, GATE),
    }
    return render(request, "kits/receiving/reels.html", context)


@needs(SEE)
def report(request: SiteRequest, shipment_id: int) -> HttpResponse:
    """Show what of a shipment is not as listed, what was said at the gate, and by when to tell whom; it prints."""
    found = _shipment(request, shipment_id)
    context = {"page": report_page(found), "shipment": found, "today": request.site.today()}
    context["claim_source"] = CLAIM_SOURCE
    return render(request, "kits/receiving/report.html", context)


@needs(SEE)
def report_sheet(request: SiteRequest, shipment_id: int) -> HttpResponse:
    """Give out the report of a shipment as a workbook."""
    found = _shipment(request, shipment_id)
    today = request.site.today()
    response = HttpResponse(report_workbook(report_page(found), request.site, today), content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="delivery-{found.pk}-{today.isoformat()}.xlsx"'
    return response


@needs(SEE)
def crate(request: SiteRequest, shipment_id: int, package_id: int | None = None) -> HttpResponse:
    """Show one crate line by line, each with what can be said of it in one touch."""
    found = _shipment(request, shipment_id)
    packages = Package.objects.of(request.site).filter(shipment=found)
    package = get_object_or_404(packages, pk=package_id) if package_id else None
    page = crate_page(found, package)
    context = {
        "page": page,
        "awaited": awaited(
            request.site, {row.item.pk: {kit.run_id for kit in row.kits if kit.run_id} for row in page.rows}
        ),
        "may_count": may(request.roles, STORE),
        "bin": request.GET.get("bin", "").strip(),
        "bins": offered_bins(request.site),
    }
    return render(request, "kits/receiving/crate.html", context)


@needs(STORE)
def grid(request: SiteRequest, shipment_id: int) -> HttpResponse:
    """Show all lines of a shipment as a grid for a keyboard; each row is kept by itself."""
    found = _shipment(request, shipment_id)
    packages = list(Package.objects.of(request.site).filter(shipment=found).order_by("name"))
    pages = [page for page in crate_pages(found, [*packages, None]) if page.rows]
    return render(request, "kits/receiving/grid.html", {"shipment": found, "pages": pages})


def _shipment(request: SiteRequest, shipment_id: int) -> Shipment:
    rows = Shipment.objects.of(request.site).select_related("supplier", "site")
    found: Shipment = get_object_or_404(rows, pk=shipment_id)
    return found
