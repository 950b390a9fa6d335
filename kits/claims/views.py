"""Claims: what is open and what can still be claimed, and one claim with its clocks and steps."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from kits.claims.models import ClaimStep
from kits.claims.pages import claim_file, claims_page
from kits.claims.queries import claims_of
from kits.orders.models import Order
from kits.receiving.counting.dates import ANSWER_SOURCE, CLAIM_SOURCE
from takeoff.people.permissions import CLAIM, SEE_PRICES, SiteRequest, may, needs


@needs(CLAIM)
def claims(request: SiteRequest) -> HttpResponse:
    """Show the open claims by their next date, and what can still be claimed."""
    context = {"page": claims_page(request.site), "today": request.site.today()}
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
