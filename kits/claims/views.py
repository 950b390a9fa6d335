"""Claims: what is open and what can still be claimed, and one claim with its clocks and steps."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from kits.claims.letter_sheet import letter_workbook
from kits.claims.letters import letter_to
from kits.claims.models import ClaimStep
from kits.claims.pages import claim_file, claims_page
from kits.claims.queries import claims_of
from kits.orders.models import Order
from kits.receiving.counting.dates import ANSWER_SOURCE, CLAIM_SOURCE
from takeoff.catalogue.models import Supplier
from takeoff.people.permissions import CLAIM, SEE_PRICES, SiteRequest, may, needs
from takeoff.sheets.files.sheet_writer import XLSX
from takeoff.units.shown import written_as_in


@needs(CLAIM)
def claims(request: SiteRequest) -> HttpResponse:
    """Show the open claims by their next date, and what can still be claimed."""
    suppliers = Supplier.objects.of(request.site).order_by("name")
    context = {"page": claims_page(request.site), "today": request.site.today(), "suppliers": suppliers}
    return render(request, "kits/claims/claims.html", context)


@needs(CLAIM)
def claim(request: SiteRequest, claim_id: int) -> HttpResponse:
    """Show one claim: what is to be done next, its clocks, its steps, what it asks for."""
    file = claim_file(request.site, get_object_or_404(claims_of(request.site), pk=claim_id))
    context = {
        "file": file,
        "claim": file.claim,
        "today": request.site.today(),
        "steps": ClaimStep.Kind.choices,
        "prices": may(request.roles, SEE_PRICES),
        "order": Order.objects.of(request.site)
        .filter(lines__claim=file.claim)
        .exclude(state=Order.State.CANCELLED)
        .first(),
        "claim_source": CLAIM_SOURCE,
        "answer_source": ANSWER_SOURCE,
    }
    return render(request, "kits/claims/claim.html", context)


@needs(CLAIM)
def letter(request: SiteRequest, supplier_id: int) -> HttpResponse:
    """Show what one supplier owes free of charge, as a letter; it prints."""
    found = letter_to(request.site, get_object_or_404(Supplier.objects.of(request.site), pk=supplier_id))
    return render(request, "kits/claims/letter.html", {"letter": found, "today": request.site.today()})


@needs(CLAIM)
def letter_sheet(request: SiteRequest, supplier_id: int) -> HttpResponse:
    """Give out what one supplier owes as a workbook."""
    found = letter_to(request.site, get_object_or_404(Supplier.objects.of(request.site), pk=supplier_id))
    today = request.site.today()
    with written_as_in(""):  # it leaves the site
        response = HttpResponse(letter_workbook(found, request.site, today), content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="owed-{supplier_id}-{today.isoformat()}.xlsx"'
    return response
