"""Keeping one act of a page at a reel: what there is to ask is asked at once, what is refused stands at its field."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from django.db import transaction

from reels.field.forms import ActForm
from takeoff.people.permissions import SiteRequest
from takeoff.records.acts import tell_kept
from takeoff.records.answers import question_of
from takeoff.records.models import Record
from takeoff.records.services import keep_each
from takeoff.records.terms.errors import AskFirstError, RecordError


def keep_act(request: SiteRequest, form: ActForm, before: Callable[[], Sequence[str]] = tuple) -> bool:
    """
    Keep what a form says and tell so; else the form has what is asked, or why nothing was kept.

    before : returns what the page itself asks of a form without faults, on top of what the books ask; all of it is
    confirmed by its hash. What was kept already, by a form that was sent twice, is asked about no more.
    """
    if not form.is_valid():
        return False
    known = Record.objects.of(request.site).filter(event_id=form.row["id"]).exists()
    try:
        record = _keep(request, form, () if known else tuple(before()))
    except AskFirstError as asked:
        form.asked = asked
        return False
    except RecordError as error:
        form.refuse(error)
        return False
    tell_kept(request, request.site.slug, form.kind, [(record.event_id, form.row)])
    return True


def _keep(request: SiteRequest, form: ActForm, before: tuple[str, ...]) -> Record:
    """Keep the record once a person has said yes to all that is asked. Raises RecordError, AskFirstError."""
    confirmed = request.POST.get("confirmed", "")
    try:
        with transaction.atomic():
            record = _kept(request, form, "")
            if before and confirmed != question_of(before):
                raise AskFirstError(before, question_of(before))
            return record
    except AskFirstError as asked:
        everything = tuple(dict.fromkeys((*before, *asked.said)))
        if confirmed != question_of(everything):
            raise AskFirstError(everything, question_of(everything)) from asked
        return _kept(request, form, question_of(asked.said))


def _kept(request: SiteRequest, form: ActForm, confirmed: str) -> Record:
    (found,) = keep_each(
        site=request.site,
        kind=form.kind.name,
        rows=[form.row],
        sender=request.user,
        roles=request.roles,
        confirmed=confirmed,
    )
    if isinstance(found, RecordError):
        raise found
    return found
