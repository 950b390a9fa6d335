"""Stock by item and by place."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from kits.stock import pages
from kits.stock.bin_duties import passed_on, set_up_bin
from kits.stock.forms import BinForm, PlaceFilter, StockFilter
from kits.stock.models import Posting
from kits.stock.place_acts import acts_at
from kits.stock.places import PICKED_KINDS
from kits.stock.tables import MoveTable, PlaceTable, StockTable
from kits.stock.worth import with_units
from takeoff.people.permissions import PLAN, SEE, SEE_PRICES, STORE, SiteRequest, may, needs
from takeoff.people.tables import shown_page
from takeoff.photos.queries import photos_of
from takeoff.records.acts import rows_sent
from takeoff.records.answers import question_of
from takeoff.records.forms import RecordForm
from takeoff.records.models import Record
from takeoff.records.record_kinds import kinds
from takeoff.sheets.row_reading import reading_here
from takeoff.sites.models import Place
from takeoff.sites.queries import offered_bins


@needs(SEE)
def stock(request: SiteRequest) -> HttpResponse:
    """Show every item with what is here of it."""
    narrowed = StockFilter(request.GET, queryset=pages.stock_list(request.site), site=request.site)
    table = shown_page(request, StockTable(narrowed.qs, site=request.site))
    context = {"table": table, "filter": narrowed, "may_move": may(request.roles, STORE)}
    return render(request, "kits/stock/stock.html", context)


@needs(SEE)
def places(request: SiteRequest) -> HttpResponse:
    """Show every place with how much it holds."""
    narrowed = PlaceFilter(request.GET, queryset=pages.place_list(request.site))
    table = shown_page(request, PlaceTable(narrowed.qs, site=request.site))
    return render(request, "kits/stock/places.html", {"table": table, "filter": narrowed})


@needs(SEE)
def place(request: SiteRequest, place_id: int) -> HttpResponse:
    """Show what lies at a place, and what can be done with it."""
    found = get_object_or_404(pages.place_list(request.site), pk=place_id)
    lying = pages.lying_at(request.site, place=found)
    acts = acts_at(found) if may(request.roles, STORE) else []
    return render(request, "kits/stock/place.html", {"place": found, "lying": lying, "acts": acts})


@needs(STORE)
def set_up(request: SiteRequest, place_id: int) -> HttpResponse:
    """Set whom a bin serves and when the walk passes it; what lies there and changes hands is asked about first."""
    found = get_object_or_404(pages.place_list(request.site).filter(kind=Place.Kind.BIN), pk=place_id)
    kit = found.kit_box.kit if hasattr(found, "kit_box") else None
    form = BinForm(request.POST or None, place=found, initial={"kit": kit, "walk": found.walk})
    context: dict[str, Any] = {"place": found, "form": form}
    if request.method == "POST" and form.is_valid():
        chosen = form.cleaned_data.get("kit")
        said = passed_on(before=kit and kit.run, after=chosen and chosen.run) if found.holds else ""
        if not said or request.POST.get("confirmed") == question_of([said]):
            set_up_bin(place=found, kit=chosen, walk=form.cleaned_data["walk"])
            messages.success(request, f"{found.told} is set up.")
            return redirect("stock_place", request.site.slug, found.pk)
        context |= {"asked": said, "question": question_of([said])}
    return render(request, "kits/stock/set_up.html", context, status=422 if form.errors or "asked" in context else 200)


@needs(STORE)
def place_act(request: SiteRequest, place_id: int, name: str) -> HttpResponse:
    """Ask how many of what lies at a place are moved, scrapped, sent back or released."""
    found = get_object_or_404(pages.place_list(request.site), pk=place_id)
    act = next((act for act in acts_at(found) if act.name == name), None)
    if act is None:
        raise Http404("no such act here")
    context = {"place": found, "act": act, "lying": pages.lying_at(request.site, place=found)}
    return render(
        request,
        "kits/stock/place_act.html",
        context | {"bins": offered_bins(request.site), "all": "all" in request.GET},
    )


@needs(STORE)
def count(request: SiteRequest, place_id: int) -> HttpResponse:
    """Ask what lies in a bin without saying what should; then show what differs, before anything is kept."""
    found = get_object_or_404(pages.place_list(request.site).filter(kind__in=PICKED_KINDS), pk=place_id)
    if request.method != "POST":
        context = {"place": found, "lying": pages.lying_at(request.site, place=found), "further": range(100, 105)}
        return render(request, "kits/stock/count.html", context)
    kind = kinds()["counts"]
    rows = rows_sent(kind, request.POST)
    typed = {number: row | {"bin": found.name} for number, row in rows.items() if number and "item" in row}
    forms = {
        number: RecordForm(row, kind=kind, reading=reading_here(request.site), now=True)
        for number, row in typed.items()
    }
    wrong = {typed[number]["item"]: form.errors for number, form in forms.items() if not form.is_valid()}
    context = {"place": found, "typed": typed, "wrong": wrong}
    if not wrong:
        compared = pages.compared(request.site, found, [form.row for form in forms.values()])
        context |= {"compared": compared, "dear": any(row.dear for row in compared)}
    return render(request, "kits/stock/count_review.html", context, status=422 if wrong else 200)


@needs(SEE)
def held(request: SiteRequest) -> HttpResponse:
    """Show what is on hold, by why."""
    places = pages.place_list(request.site).filter(kind=Place.Kind.QUARANTINE)
    found = [(place, pages.lying_at(request.site, place=place)) for place in places]
    context = {"held": [(place, lying) for place, lying in found if lying], "may_act": may(request.roles, STORE)}
    return render(request, "kits/stock/held.html", context)


@needs(SEE)
def posting(request: SiteRequest, posting_id: int) -> HttpResponse:
    """Show one act: what moved, who did it and when; to be taken back with a reason by who may do such acts."""
    rows = Posting.objects.of(request.site).select_related("recorded_by", "lender", "reverses")
    found = get_object_or_404(rows, pk=posting_id)
    moves = with_units(found.moves.select_related("item", "source", "target").order_by("pk"), request.site)
    record = Record.objects.of(request.site).filter(event_id=found.event_id).first()
    back = Posting.objects.of(request.site).filter(reverses=found).first()
    undone = back is None and record is not None and record.kind != "reversals"
    may_undo = undone and record is not None and may(request.roles, kinds()[record.kind].permission)
    photos = photos_of(request.site, [(record.kind, record.event_id)]) if record else {}
    context: dict[str, Any] = {"posting": found, "moves": moves, "record": record, "back": back, "may_undo": may_undo}
    context |= {"photos": next(iter(photos.values()), []), "may_remove": may(request.roles, PLAN)}
    return render(request, "kits/stock/posting.html", context)


@needs(SEE)
def item(request: SiteRequest, item_id: int) -> HttpResponse:
    """Show where an item lies, what it is, and its moves."""
    found = get_object_or_404(pages.stock_list(request.site), pk=item_id)
    moves = shown_page(request, MoveTable(pages.moves_of(request.site, found), site=request.site))
    lying = pages.lying_at(request.site, item=found)
    prices = may(request.roles, SEE_PRICES)
    return render(request, "kits/stock/item.html", {"item": found, "lying": lying, "table": moves, "prices": prices})
