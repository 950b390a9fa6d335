"""What people report on the page of a run, as records: lengths as built, progress of stages."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from takeoff.database.locks import lock
from takeoff.people.models import User
from takeoff.records.models import Record
from takeoff.records.services import keep_one
from takeoff.rules.services import refresh_takeoffs
from takeoff.runs.models import Measurement, Run, Stage
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
def report_stage(
    *, site: Site, run: Run, stage: str, planned: date | None, done: date | None, by: User | None = None
) -> Stage:
    """
    Say when a stage is planned and on which day it was done.

    The end of that day counts as the moment, unless it is the day of the moment that is kept already.
    """
    lock(Site.objects.filter(pk=site.pk))
    known = run.stages.filter(stage=stage).first()
    kept = site.local_date(known.done) if known and known.done else None
    if done != kept:
        end = site.start_of(done + timedelta(days=1)) - timedelta(seconds=1) if done else None
        row = {"run": run, "stage": stage, "done": end}
        keep_one(site=site, kind="stage_reports", row={"id": str(uuid4()), "at": timezone.now(), **row}, sender=by)
    record = run.stages.filter(stage=stage).first() or Stage(run=run, stage=stage)
    if record.planned != planned or record.pk is None:
        record.planned = planned
        new = record.pk is None
        save_stages(
            site=site,
            matched=Matched[Stage](new=[record]) if new else Matched[Stage](changed=[record], fields={"planned"}),
        )
    return record
