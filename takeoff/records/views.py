"""
What happened, from phones and for the office.

The endpoint takes records and answers each in JSON (`docs/records.md` is its contract); the pages show what waits to be
placed, and let whoever owns it place or drop it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from functools import partial
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from takeoff.people.permissions import SEE, SEE_PRICES, SiteRequest, machine, may, needs
from takeoff.people.sending import post_only, way_back
from takeoff.records import queries
from takeoff.records.acts import last_act, rows_sent, rows_to_undo, tell_kept
from takeoff.records.answers import Answer
from takeoff.records.decoding import Sent
from takeoff.records.forms import DropForm, RecordForm
from takeoff.records.models import Record
from takeoff.records.record_kinds import RecordKind, kinds
from takeoff.records.reversals import ReversalsKind
from takeoff.records.services import TooManyError, drop_aside, keep_each, may_settle, replace_aside, take
from takeoff.records.terms.errors import AskFirstError, RecordError
from takeoff.sheets.row_reading import reading_here

MOST_RECORDS = 200
MOST_BYTES = 1024 * 1024
LONGEST_DEVICE = 60
LONGEST_ID = 80


@needs(SEE)
def waiting(request: SiteRequest) -> HttpResponse:
    """Show the records that wait to be placed."""
    return render(request, "takeoff/records/waiting.html", {"rows": queries.waiting(request.site)})


@needs(SEE)
def aside(request: SiteRequest, aside_id: int) -> HttpResponse:
    """Show one record that waits, with what can be done: place it by a record that says it right, or drop it."""
    found = get_object_or_404(queries.waiting(request.site), pk=aside_id)
    kind, reading = kinds()[found.record.kind], reading_here(request.site)
    happened = (timezone.now() if kind.placed_now else found.record.at).astimezone(request.site.tz)
    hidden = set() if may(request.roles, SEE_PRICES) else kind.prices & (found.record.row or {}).keys()
    allowed = may_settle(request.roles, found) and not hidden  # whoever places a record says all of it anew
    if request.method == "POST" and not allowed:
        raise PermissionDenied("Your role here may not place this record.")
    said = {name: cell for name, cell in (found.record.row or {}).items() if name not in {"id", "at"} | hidden}
    initial = {**said, "id": str(uuid4()), "at": f"{happened:%Y-%m-%d %H:%M}"}
    dropping = request.method == "POST" and "drop" in request.POST
    placing = request.method == "POST" and not dropping
    form = RecordForm(request.POST if placing else None, kind=kind, reading=reading, initial=initial)
    drop_form = DropForm(request.POST if dropping else None)
    asked: AskFirstError | None = None
    try:
        if dropping and drop_form.is_valid():
            drop_aside(site=request.site, aside=found, reason=drop_form.cleaned_data["reason"], sender=request.user)
            messages.success(request, f"Dropped: {found.record}. It stays on record, and out of the books.")
            return redirect("waiting_records", request.site.slug)
        if placing and form.is_valid():
            confirmed = request.POST.get("confirmed", "")
            row = form.row
            replace_aside(
                site=request.site, aside=found, kind=kind.name, row=row, sender=request.user, confirmed=confirmed
            )
            messages.success(request, f"Placed: {found.record}. It is in the books.")
            return redirect("waiting_records", request.site.slug)
    except AskFirstError as error:
        asked = error
    except RecordError as error:
        (drop_form if dropping else form).add_error(error.column if error.column in form.fields else None, str(error))
    context = {"aside": found, "said": said, "form": form, "drop_form": drop_form, "asked": asked, "allowed": allowed}
    status = 422 if request.method == "POST" else 200
    return render(request, "takeoff/records/aside.html", context, status=status)


@needs(SEE)
def act(request: SiteRequest, kind_name: str) -> HttpResponse:
    """Keep what a page did, one record or several; what is not kept comes back with what was typed, and why."""
    kind = kinds().get(kind_name)
    if kind is None:
        raise Http404("no such kind")
    if not may(request.roles, kind.permission):
        raise PermissionDenied(f"Your role here may not {kind.permission.does}.")
    if request.method == "POST":
        return _keep(request, kind, rows_sent(kind, request.POST))
    told = {name: cell for name, cell in request.GET.items() if name != "next"}
    form = RecordForm(kind=kind, reading=reading_here(request.site), now=True, initial=told | {"id": str(uuid4())})
    return render(request, "takeoff/records/act.html", {"kind": kind, "next": _back(request), "forms": [form]})


@needs(SEE)
@post_only("today")
def undo(request: SiteRequest) -> HttpResponse:
    """Take back what was done last, all of it; whether that is allowed, the kind of that decides."""
    return _keep(request, kinds()[ReversalsKind.name], rows_to_undo(last_act(request, request.site.slug)))


def _keep(request: SiteRequest, kind: RecordKind, rows: Mapping[str, Mapping[str, str]]) -> HttpResponse:
    """Keep records by the number that stands before their cells in the form; ask first, or show again what is wrong."""
    context: dict[str, Any] = {"kind": kind, "next": _back(request)}
    typed = {
        number: {f"{number}-{name}" if number else name: cell for name, cell in row.items()}
        for number, row in rows.items()
    }
    make = partial(RecordForm, kind=kind, reading=reading_here(request.site), now=True)
    forms = {number: make(cells, prefix=number) for number, cells in typed.items()}
    sent = {number: form.row for number, form in forms.items() if form.is_valid()}
    try:
        answers = keep_each(
            site=request.site,
            kind=kind.name,
            rows=list(sent.values()),
            sender=request.user,
            roles=request.roles,
            confirmed=request.POST.get("confirmed", ""),
        )
    except AskFirstError as asked:
        said = [(name, value) for name, values in request.POST.lists() for value in values if name != "confirmed"]
        return render(request, "takeoff/records/ask.html", context | {"asked": asked, "said": said}, status=422)
    kept = [(record, row) for record, row in zip(answers, sent.values(), strict=True) if isinstance(record, Record)]
    if kept:
        tell_kept(request, request.site.slug, kind, [(record.event_id, row) for record, row in kept])
    for number, answer in zip(sent, answers, strict=True):
        if isinstance(answer, RecordError):
            form = forms[number]
            form.add_error(answer.column if answer.column in form.fields else None, str(answer))
    if refused := [form for form in forms.values() if form.errors]:
        for number, form in forms.items():
            typed[number].pop(form.add_prefix("seen"), None)  # who reads the refusal has seen what came meanwhile
        return render(request, "takeoff/records/act.html", context | {"forms": refused, "kept": len(kept)}, status=422)
    if not rows:
        messages.warning(request, "Nothing was written: no line was ticked, or no figure stood in it.")
    return redirect(context["next"])


def _back(request: SiteRequest) -> str:
    return way_back(request, reverse("today", args=[request.site.slug]))


class BatchError(ValueError):
    """A batch that is not of the form that the contract gives."""


@machine
@needs(SEE)
def records(request: SiteRequest) -> JsonResponse:
    """Take a batch of records, each on its own; the permission of each kind decides what becomes of it."""
    if request.method != "POST":
        return told("Send records by POST.", 405)
    if _bytes(request) > MOST_BYTES:
        return told("A batch is at most 1 MB.", 413)
    try:
        device, clock, sent = read_batch(request.body)
        answers = take(
            site=request.site, sender=request.user, roles=request.roles, sent=sent, device=device, clock=clock
        )
    except BatchError as error:
        return told(str(error), 400)
    except TooManyError:
        return told("At most 10 000 records an hour from one person. Nothing of this batch was kept.", 429)
    return JsonResponse({"records": [_as_json(answer) for answer in answers]})


def read_batch(body: bytes) -> tuple[str, datetime | None, list[Sent]]:
    """Return the device, its clock and the records of a batch. Raises BatchError."""
    try:
        batch = json.loads(body)
    except ValueError as error:
        raise BatchError("The batch is not JSON.") from error
    if not isinstance(batch, dict) or not isinstance(batch.get("records"), list):
        raise BatchError('The batch is no object with "device", "clock" and a list "records".')
    device, clock, records = batch.get("device", ""), batch.get("clock"), batch["records"]
    if not _is_text(device, LONGEST_DEVICE):
        raise BatchError(f'"device" is a text of at most {LONGEST_DEVICE} characters.')
    if len(records) > MOST_RECORDS:
        raise BatchError(f"A batch is at most {MOST_RECORDS} records.")
    return device, None if clock is None else _moment(clock), [_sent(record) for record in records]


def told(error: str, status: int) -> JsonResponse:
    """Return an answer that no record of the batch got any further."""
    return JsonResponse({"error": error}, status=status)


def _sent(record: Any) -> Sent:
    if not (isinstance(record, dict) and isinstance(record.get("kind"), str) and isinstance(record.get("row"), dict)):
        raise BatchError('A record is an object with "kind" and "row".')
    number, after = record.get("number"), record.get("after", [])
    if number is not None and (type(number) is not int or not 0 <= number < 2**53):
        raise BatchError('"number" is a whole number, or null.')
    if not isinstance(after, list) or not all(_is_text(each, LONGEST_ID) for each in after):
        raise BatchError('"after" is a list of ids.')
    if any(isinstance(cell, list | dict) for cell in record["row"].values()):
        raise BatchError("A cell is a text, a number, true, false or null.")
    return Sent(record["kind"], record["row"], number, tuple(after))


def _is_text(value: Any, longest: int) -> bool:
    return isinstance(value, str) and len(value) <= longest and value.isprintable()


def _moment(clock: Any) -> datetime:
    try:
        moment = datetime.fromisoformat(clock)
    except (TypeError, ValueError) as error:
        raise BatchError('"clock" is a moment such as 2026-03-04T14:30:00Z, or null.') from error
    if moment.tzinfo is None:
        raise BatchError('"clock" names its time zone, as 2026-03-04T14:30:00Z does.')
    return moment


def _as_json(answer: Answer) -> dict[str, Any]:
    return {"id": answer.id, "answer": answer.answer, "said": list(answer.said), "field": answer.column}


def _bytes(request: HttpRequest) -> int:
    announced = request.META.get("CONTENT_LENGTH") or "0"
    return int(announced) if announced.isdigit() else 0
