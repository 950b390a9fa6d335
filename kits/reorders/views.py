"""Orders: what is due of them, one of them, drafting from shortages, and what was sent."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from kits.orders.models import Order, OrderFile
from kits.reorders import queries
from kits.reorders.pages import new_orders_page, order_page, orders_page
from kits.reorders.services import draft_orders, send_order
from takeoff.people.permissions import ORDER, SEE, SEE_PRICES, SiteRequest, may, needs
from takeoff.records.acts import Done, remember
from takeoff.records.terms.errors import RecordError
from takeoff.sheets.files.sheet_writer import XLSX
from takeoff.units.shown import written_as_in

MOST_TICKED = 500


@needs(ORDER)
def workbook(request: SiteRequest, supplier_id: int) -> HttpResponse:
    """Give out the workbook of what one supplier is to send; 0 stands for items that name no supplier."""
    with written_as_in(""):  # it leaves the site
        made = queries.workbook_of(request.site, supplier_id)
    if made is None:
        raise Http404("nothing to order there")
    return _download(*made)


@needs(SEE)
def orders(request: SiteRequest) -> HttpResponse:
    """Show the orders by what is to be done about them."""
    asked = request.GET.get("supplier", "")
    page = orders_page(request.site, int(asked) if asked.isdecimal() and len(asked) < 10 else None)
    return render(request, "kits/reorders/orders.html", _context(request) | {"page": page})


@needs(SEE)
def order(request: SiteRequest, order_id: int) -> HttpResponse:
    """Show one order: what comes next, its lines, its steps, its files."""
    page = order_page(request.site, order_of(request, order_id))
    context = _context(request) | {"page": page, "one": page.standing, "order": page.order}
    return render(request, "kits/reorders/order.html", context)


@needs(SEE)
def found_order(request: SiteRequest) -> HttpResponse:
    """Send on to the order that is named."""
    found = get_object_or_404(Order.objects.of(request.site), name=request.GET.get("order", "").strip())
    return redirect("order", request.site.slug, found.pk)


@needs(ORDER)
def new_order(request: SiteRequest) -> HttpResponse:
    """Show what would be drafted of what was ticked, one order a supplier, and what would be left out; draft it."""
    if request.method == "POST":
        drafted = draft_orders(site=request.site, sender=request.user, seen=_seen(request.POST.getlist("line")))
        for line, why in drafted.left_out:
            messages.warning(request, f"{line.code} was left out: {why}.")
        for words in drafted.changed:
            messages.warning(request, f"{words}.")
        if not drafted.orders:
            messages.warning(request, "Nothing was drafted: nothing of it is lacking any more.")
            return redirect("orders", request.site.slug)
        names = ", ".join(one.name for one in drafted.orders)
        messages.success(request, f"Drafted: {names}.")
        if len(drafted.orders) == 1:
            return redirect("order", request.site.slug, drafted.orders[0].pk)
        return redirect("orders", request.site.slug)
    wares = [ware for ware in request.GET.getlist("ware") if is_ware(ware)][:MOST_TICKED]
    page = new_orders_page(request.site, wares)
    return render(request, "kits/reorders/new_order.html", _context(request) | {"page": page, "wares": wares})


def _seen(lines: Sequence[str]) -> dict[str, int]:
    """Return what a person was shown: `i12/CB-02//40000` is how much of which line, in ticks."""
    parts = (line.rpartition("/") for line in lines[:MOST_TICKED])
    return {
        key: int(ticks)
        for key, _, ticks in parts
        if ticks.isdecimal() and len(ticks) < 19 and is_ware(key.split("/")[0])
    }


def is_ware(text: str) -> bool:
    """Return whether a text names an item or a cable by its key."""
    return text[:1] in {"i", "c"} and text[1:].isdecimal() and len(text) < 12


@needs(ORDER)
def send(request: SiteRequest, order_id: int) -> HttpResponse:
    """Show what is sent, and keep that it was, with the workbook for the supplier."""
    found = order_of(request, order_id)
    error = None
    if request.method == "POST":
        names = ("id", "at", "po", "whom", "note")
        said = {name: cell for name in names if (cell := request.POST.get(name, "").strip())}
        row = {"id": str(uuid4()), "at": timezone.now().isoformat()} | said
        row |= {"order": found.name, "step": "sent", "by": request.user.get_username()}
        try:
            kept = send_order(order=found, sender=request.user, row=row)
        except RecordError as refused:
            error = refused
        else:
            remember(request, request.site.slug, Done(f"Order {found} sent, revision {kept.revision}", (row["id"],)))
            return redirect("order", request.site.slug, found.pk)
    page = order_page(request.site, found)
    context = _context(request) | {"page": page, "one": page.standing, "order": found, "error": error}
    return render(request, "kits/reorders/send.html", context, status=422 if error else 200)


@needs(ORDER)
def file(request: SiteRequest, order_id: int, revision: int) -> HttpResponse:
    """Give out the very workbook that was sent."""
    found = get_object_or_404(OrderFile.objects.of(request.site), order=order_id, revision=revision)
    return _download(found.name, bytes(found.content))


def order_of(request: SiteRequest, order_id: int) -> Order:
    """Return the order that an address names."""
    return get_object_or_404(Order.objects.of(request.site).select_related("supplier", "site"), pk=order_id)


def _context(request: SiteRequest) -> dict[str, object]:
    return {
        "may_order": may(request.roles, ORDER),
        "prices": may(request.roles, SEE_PRICES),
        "today": request.site.today(),
    }


def _download(name: str, content: bytes) -> HttpResponse:
    response = HttpResponse(content, content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
