"""What is done about one order: changing its draft, asking, hearing the reply, chasing, cancelling."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from kits.orders.models import How, Order, OrderFile, OrderLine
from kits.reorders.forms import AddForm, LineForm, ReplyFileForm, TakeOutForm
from kits.reorders.pages import order_page
from kits.reorders.proposals import CABLE, ITEM
from kits.reorders.queries import propose
from kits.reorders.reply_file import ReplyError, read_reply
from kits.reorders.services import add_line, change_line, take_out
from kits.reorders.views import order_of
from takeoff.people.permissions import ORDER, SiteRequest, needs
from takeoff.people.sending import post_only
from takeoff.records.answers import question_of
from takeoff.records.models import Record
from takeoff.records.terms.errors import AskFirstError, RecordError


@needs(ORDER)
def change(request: SiteRequest, order_id: int) -> HttpResponse:
    """Show the lines of a draft to be changed, what colleagues' drafts ask for, and a line to add."""
    return _draft_page(request, order_of(request, order_id))


@needs(ORDER)
@post_only("change_order", "order_id")
def change_order_line(request: SiteRequest, order_id: int, line_id: int) -> HttpResponse:
    """Change a line of a draft; what is off the pack or leaves some short is asked about first."""
    found = order_of(request, order_id)
    line = get_object_or_404(_lines(found), pk=line_id)
    form = LineForm(request.POST, site=request.site, line=line)
    if not form.is_valid():
        return _draft_page(request, found, form, status=422)
    ware = f"{ITEM}{line.item_id}" if line.item_id else f"{CABLE}{line.cable_id}"
    asks = form.asks(propose(request.site, [ware], without=found))
    if asks and request.POST.get("confirmed") != question_of(asks):
        said = [(name, value) for name, values in request.POST.lists() for value in values if name != "confirmed"]
        asked = AskFirstError(tuple(asks), question_of(asks))
        return render(
            request, "takeoff/records/ask.html", {"asked": asked, "said": said, "next": request.path}, status=422
        )
    try:
        change_line(order=found, line_id=line.pk, sender=request.user, **form.cleaned_data)
    except RecordError as error:
        messages.warning(request, str(error))
    return redirect("change_order", request.site.slug, found.pk)


@needs(ORDER)
@post_only("change_order", "order_id")
def add_order_line(request: SiteRequest, order_id: int) -> HttpResponse:
    """Add a line by hand."""
    found = order_of(request, order_id)
    form = AddForm(request.POST, site=request.site)
    if not form.is_valid():
        return _draft_page(request, found, adding=form, status=422)
    try:
        add_line(order=found, sender=request.user, **form.cleaned_data)
    except RecordError as error:
        form.add_error(error.column or None, str(error))
        return _draft_page(request, found, adding=form, status=422)
    return redirect("change_order", request.site.slug, found.pk)


@needs(ORDER)
@post_only("change_order", "order_id")
def take_line_out(request: SiteRequest, order_id: int, line_id: int) -> HttpResponse:
    """Take a line out of a draft, with the reason."""
    found = order_of(request, order_id)
    line = get_object_or_404(_lines(found), pk=line_id)
    form = TakeOutForm(request.POST)
    if not form.is_valid():
        messages.warning(request, f"{line.item or line.cable} stays: say why it is taken out.")
        return redirect("change_order", request.site.slug, found.pk)
    try:
        take_out(order=found, line_id=line.pk, sender=request.user, reason=form.cleaned_data["reason"])
    except RecordError as error:
        messages.warning(request, str(error))
    return redirect("change_order", request.site.slug, found.pk)


def _lines(order: Order) -> QuerySet[OrderLine]:
    return OrderLine.objects.of(order.site).filter(order=order).select_related("item", "cable", "run").order_by("pk")


def _draft_page(
    request: SiteRequest, found: Order, wrong: LineForm | None = None, adding: AddForm | None = None, status: int = 200
) -> HttpResponse:
    page = order_page(request.site, found)
    forms = [
        wrong if wrong and wrong.line.pk == row.line.pk else LineForm(site=request.site, line=row.line)
        for row in page.standing.lines
    ]
    rows = [(row, form, page.drafts.get(row.line.pk, ())) for row, form in zip(page.standing.lines, forms, strict=True)]
    adding = adding or AddForm(site=request.site)
    context = {"page": page, "one": page.standing, "order": found, "rows": rows, "adding": adding, "may_order": True}
    return render(request, "kits/reorders/change.html", context, status=status)


@needs(ORDER)
def act_on(request: SiteRequest, order_id: int, what: str) -> HttpResponse:
    """Show the form of an act on an order: ask, chase or cancel; the records' own address keeps it."""
    found = order_of(request, order_id)
    page = order_page(request.site, found)
    context = {"page": page, "one": page.standing, "order": found, "how": How.choices, "today": request.site.today()}
    return render(request, f"kits/reorders/{what}.html", context)


@needs(ORDER)
def reply(request: SiteRequest, order_id: int) -> HttpResponse:
    """Show the ways to tell a reply: all as ordered, line by line, or the file that came back."""
    found = order_of(request, order_id)
    form = ReplyFileForm(request.POST, request.FILES) if request.method == "POST" else ReplyFileForm()
    reading, problem, before = None, "", False
    if request.method == "POST" and form.is_valid():
        files = list(OrderFile.objects.of(request.site).filter(order=found).order_by("-revision"))
        sent = form.cleaned_data["file"]
        try:
            reading = read_reply(found, files, list(_lines(found)), sent, sent.name)
        except ReplyError as error:
            problem = str(error)
        else:
            ids = [row.cells["id"] for row in reading.rows if row.cells]
            before = Record.objects.of(request.site).filter(event_id__in=ids).exists()
    page = order_page(request.site, found)
    context = {
        "page": page,
        "one": page.standing,
        "order": found,
        "how": How.choices,
        "form": form,
        "reading": reading,
        "problem": problem,
        "before": before,
        "today": request.site.today(),
    }
    wrong = request.method == "POST" and reading is None
    return render(request, "kits/reorders/reply.html", context, status=422 if wrong else 200)
