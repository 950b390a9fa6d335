"""The gate: taking a truck in, whether it was announced or not."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from kits.gate.models import Arrival
from kits.gate.paper_words import SENTENCES, words_for_paper
from kits.shipments.models import Package, Shipment
from takeoff.catalogue.models import Supplier
from takeoff.people.permissions import GATE, SiteRequest, needs


@needs(GATE)
def new_truck(request: SiteRequest) -> HttpResponse:
    """Ask what is known of a truck that no list announces."""
    suppliers = Supplier.objects.of(request.site).order_by("name").values_list("name", flat=True)
    return render(request, "kits/gate/new_truck.html", {"suppliers": suppliers})


@needs(GATE)
def gate(request: SiteRequest, shipment_id: int) -> HttpResponse:
    """Ask what came with a truck, and say what to write on the driver's paper before it is signed."""
    shipment = get_object_or_404(Shipment.objects.of(request.site).select_related("supplier"), pk=shipment_id)
    names = list(
        Package.objects.of(request.site).filter(shipment=shipment).order_by("name").values_list("name", flat=True)
    )
    typed, ticked = request.GET, {state: request.GET.getlist(state) for state in ("missing", "damaged")}
    count = typed.get("count", "")
    words = SENTENCES["count"]
    if count.isdecimal():
        broken = typed.get("seal_whole") == "no"
        words = words_for_paper(listed=len(names), here=int(count), **ticked, seal_broken=broken)
    context = {
        "shipment": shipment,
        "names": names,
        "typed": typed,
        "words": words,
        "sentences": SENTENCES,
        "ways": Arrival.Words.choices,
    }
    return render(request, "kits/gate/gate.html", context | ticked)
