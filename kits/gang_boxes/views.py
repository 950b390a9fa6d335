"""Gang boxes: what is in them, filling one, and saying what is left."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from kits.gang_boxes.pages import boxes, crew_boxes, in_box, to_fill
from kits.gang_boxes.served import gang_boxes
from takeoff.people.permissions import HAND_OUT, STORE, SiteRequest, may, needs


@needs(HAND_OUT)
def overview(request: SiteRequest) -> HttpResponse:
    """Show every gang box, those to be counted first."""
    found = boxes(request.site)
    context = {"boxes": found, "due": sum(box.due for box in found), "may_fill": may(request.roles, STORE)}
    return render(request, "kits/gang_boxes/boxes.html", context)


@needs(STORE)
def fill(request: SiteRequest) -> HttpResponse:
    """Ask what goes from the store into the gang box of a crew."""
    context = {"crews": crew_boxes(request.site), "rows": to_fill(request.site), "chosen": request.GET.get("box", "")}
    return render(request, "kits/gang_boxes/fill.html", context)


@needs(HAND_OUT)
def count(request: SiteRequest, place_id: int) -> HttpResponse:
    """Ask what is left in a gang box, in figures or as about half."""
    place = get_object_or_404(gang_boxes(request.site), pk=place_id)
    return render(request, "kits/gang_boxes/count.html", {"place": place, "rows": in_box(request.site, place)})
