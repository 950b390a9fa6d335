"""What waits aside: found when what it lacks may have come, put on its way again, and ended."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from takeoff.people.models import User
from takeoff.records import queries
from takeoff.records.decoding import read_again
from takeoff.records.models import AsideEnd, SetAside
from takeoff.records.record_kinds import Filing, kinds
from takeoff.records.terms.errors import RecordError
from takeoff.sheets.row_reading import reading_of
from takeoff.sites.models import Site

MANY = 1_000  # things to look for, from which on it is quicker to read all that waits


def waiting_for(site: Site, filings: Sequence[Filing]) -> list[SetAside]:
    """Return what was set aside and is to be tried again with these records."""
    if not filings:
        return []
    subjects = {subject_of(filing) for filing in filings}
    brought = {f"record {filing.id}" for filing in filings}
    brought |= {thing for filing in filings if not filing.error for thing in filing.kind.brings(filing.row.said)}
    rows = queries.waiting(site).exclude(lacks="")
    if len(subjects) + len(brought) <= MANY:
        return list(rows.filter(Q(subject__in=subjects) | Q(lacks__in=brought)))
    return [aside for aside in rows if aside.subject in subjects or aside.lacks in brought]


def refiled(site: Site, aside: SetAside) -> Filing:
    """Return a record that waits aside as one on its way again, as it was written."""
    record = aside.record
    kind = kinds()[record.kind]
    assert record.row is not None  # only what came as a record is set aside
    row = read_again(kind, record.row, reading_of(site), number=-aside.pk)
    row.said = dict(row.values)
    row.values["at"] = record.at
    return Filing(kind, row, record, sender=record.recorded_by, aside=aside)


def end_aside(aside: SetAside, how: AsideEnd.How, sender: User | None, **more: Any) -> AsideEnd:
    """End a record that waits aside. Raises RecordError when it has an end already."""
    try:
        with transaction.atomic():
            return AsideEnd.objects.create(
                set_aside=aside, how=how, recorded_at=timezone.now(), recorded_by=sender, **more
            )
    except IntegrityError as error:
        raise RecordError(f"{aside.record} has been settled meanwhile: look at it again.") from error


def subject_of(filing: Filing) -> str:
    """Return what a record is about; a reversal is about what it takes back."""
    if filing.reverses is not None and filing.reverses.row is not None:
        return kinds()[filing.reverses.kind].subject(filing.reverses.row)
    return filing.kind.subject(filing.row.said)
