"""What people report on the page of a run, as records: lengths as built, progress of stages, what stages used."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from kits.overview.asked import asked_lines
from takeoff.database.locks import lock
from takeoff.people.models import User
from takeoff.records.models import Record
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import AskFirstError
from takeoff.rules.services import refresh_takeoffs
from takeoff.runs.models import Measurement, Run, Stage, StageReport
from takeoff.runs.services import forget_measurement, save_stages
from takeoff.sheets.matching import Matched
from takeoff.sites.models import Site


def report_length(
    *, site: Site, run: Run, length: Decimal, section: int | None = None, note: str = "", by: User | None = None
) -> Record:
    """
    Keep a measured centre line [mm]; takeoffs and conductor lengths follow it.

    section : the place of the section that was measured, None for the whole run.
    """
    row = {"run": run, "length": f"{length} mm", "section": section, "note": note}
    return keep_one(site=site, kind="lengths", row={"id": str(uuid4()), "at": timezone.now(), **row}, sender=by)


@transaction.atomic
def take_back_length(*, site: Site, run: Run, measurement_id: int, by: User | None = None) -> Measurement | None:
    """Take one measured length back, so that the latest of the others counts, and return what it was."""
    measurement = Measurement.objects.of(site).filter(run=run, pk=measurement_id).select_related("by").first()
    if measurement is None:
        return None
    if not measurement.event_id:  # told by a sheet of runs, which is no record
        forget_measurement(site=site, measurement=measurement)
        refresh_takeoffs(site=site)
        return measurement
    row = {"reverses": measurement.event_id, "reason": "taken back on the page of the run"}
    keep_one(site=site, kind="reversals", row={"id": str(uuid4()), "at": timezone.now(), **row}, sender=by)
    return measurement


@transaction.atomic
def report_stage(*, site: Site, run: Run, stage: str, done: date | None, by: User | None = None) -> Record | None:
    """
    Say on which day a stage was done, None that it is open; return the record, None where nothing changed.

    The end of that day counts as the moment, unless it is the day of the moment that is kept already.
    """
    lock(Site.objects.filter(pk=site.pk))
    known = run.stages.filter(stage=stage).first()
    kept = site.local_date(known.done) if known and known.done else None
    if done == kept:
        return None
    end = site.start_of(done + timedelta(days=1)) - timedelta(seconds=1) if done else None
    row = {"run": run, "stage": stage, "done": end}
    return keep_one(site=site, kind="stage_reports", row={"id": str(uuid4()), "at": timezone.now(), **row}, sender=by)


@transaction.atomic
def plan_stage(*, site: Site, run: Run, stage: str, planned: date | None) -> None:
    """Say for which day a stage is planned."""
    lock(Site.objects.filter(pk=site.pk))
    known = run.stages.filter(stage=stage).first()
    if known is None:
        save_stages(site=site, matched=Matched[Stage](new=[Stage(run=run, stage=stage, planned=planned)]))
    elif known.planned != planned:
        known.planned = planned
        save_stages(site=site, matched=Matched[Stage](changed=[known], fields={"planned"}))


@transaction.atomic
def take_back_stage(*, site: Site, run: Run, stage: str, by: User | None = None) -> Record | None:
    """
    Take back that a stage is done: the report before it counts again. Return the record, None where it is open.

    What a sheet of stages told is no report that could be taken back: then it is reported open.
    """
    lock(Site.objects.filter(pk=site.pk))
    if not run.stages.filter(stage=stage, done__isnull=False).exists():
        return None
    latest = StageReport.objects.of(site).filter(run=run, stage=stage).order_by("at", "event_id").last()
    if latest is None or latest.done is None:
        return report_stage(site=site, run=run, stage=stage, done=None, by=by)
    row = {"reverses": latest.event_id, "reason": "taken back on the page of the run"}
    return keep_one(site=site, kind="reversals", row={"id": str(uuid4()), "at": timezone.now(), **row}, sender=by)


@transaction.atomic
def answer_use(
    *,
    site: Site,
    run: Run,
    stage: str,
    items: Collection[int],
    quantity: Decimal | None = None,
    nothing: bool = False,
    by: User | None = None,
) -> list[Record]:
    """
    Say what a stage that is done with nothing handed out has used; return the records, none where all is answered.

    items : keys of those that are answered for. quantity : of each, None for the takeoff. nothing : they were not used.
    What was used is handed out, dated the moment when the stage was done. Raises RecordError, and keeps none, where the
    books hold less than that.
    """
    lock(Site.objects.filter(pk=site.pk))
    done = run.stages.filter(stage=stage, done__isnull=False).values_list("done", flat=True).first()
    if done is None:
        return []
    at, told = min(done, timezone.now()), []
    # Each record locks its item: in the order of their keys, as everywhere.
    for line in sorted(asked_lines(site, run, stage), key=lambda line: line.item_id):
        if line.item_id not in items:
            continue
        row = {"id": str(uuid4()), "run": run, "stage": stage, "item": line.item, "at": at}
        if nothing:
            told.append(keep_one(site=site, kind="nothing_used", row=row, sender=by))
        else:
            row["quantity"] = line.quantity if quantity is None else quantity
            told.append(_handed_out(site, row, by))
    return told


def _handed_out(site: Site, row: dict[str, Any], by: User | None) -> Record:
    """Keep what a finished stage used: that it is more than it needed is what was asked, and answered."""
    try:
        return keep_one(site=site, kind="issues", row=row, sender=by)
    except AskFirstError as asked:
        return keep_one(site=site, kind="issues", row=row, sender=by, confirmed=asked.question)
