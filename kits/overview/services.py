"""What people report on the page of a run: lengths as built, progress of stages."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from django.db import transaction

from takeoff.people.models import User
from takeoff.rules.services import refresh_takeoffs, settle_takeoffs
from takeoff.runs.models import Measurement, Run, Stage
from takeoff.runs.services import Measured, record_measurements, save_stages, take_back_measurement
from takeoff.sheets.matching import Matched
from takeoff.sites.models import Site


@transaction.atomic
def report_length(
    *, site: Site, run: Run, length: Decimal, section: int | None = None, note: str = "", by: User | None = None
) -> Measurement:
    """
    Keep a measured centre line [mm] and bring takeoffs and conductor lengths up to it.

    section : the place of the section that was measured, None for the whole run.
    """
    (measurement,) = record_measurements(measured=[Measured(run=run, length=length, seq=section, note=note)], by=by)
    refresh_takeoffs(site=site)
    return measurement


@transaction.atomic
def take_back_length(*, site: Site, run: Run, measurement_id: int) -> Measurement | None:
    """Take one measured length back, bring takeoffs and conductor lengths up to the others, and return what it was."""
    measurement = take_back_measurement(site=site, run=run, measurement_id=measurement_id)
    if measurement is not None:
        refresh_takeoffs(site=site)
    return measurement


@transaction.atomic
def report_stage(*, site: Site, run: Run, stage: str, planned: date | None, done: date | None) -> Stage:
    """
    Say when a stage is planned and on which day it was done.

    The end of that day counts as the moment, unless it is the day of the moment that is kept already.
    """
    row = run.stages.filter(stage=stage).first()
    record = row or Stage(run=run, stage=stage)
    record.planned = planned
    if done is None:
        record.done = None
    elif record.done is None or site.local_date(record.done) != done:
        record.done = site.start_of(done + timedelta(days=1)) - timedelta(seconds=1)
    matched = Matched[Stage](changed=[record], fields={"planned", "done"}) if row else Matched[Stage](new=[record])
    save_stages(site=site, matched=matched)
    settle_takeoffs(site=site)
    return record
