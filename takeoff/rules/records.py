"""What is reported of runs as they are built, lengths and stages: the kinds of record, and what follows from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from takeoff.database.locks import lock
from takeoff.people.permissions import HAND_OUT, MEASURE, PLAN
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, register_kind
from takeoff.records.terms.errors import MalformedError, RecordError
from takeoff.rules.services import refresh_takeoffs, settle_takeoffs
from takeoff.runs.models import LengthChoice, Measurement, NothingUsed, Section, StageReport
from takeoff.runs.services import (
    Measured,
    forget_measurement,
    forget_nothing_used,
    forget_stage_report,
    record_length_choices,
    record_measurements,
    record_nothing_used,
    report_stages,
)
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Moment, Reference, Text, Whole
from takeoff.sheets.cells.measured import Length
from takeoff.sites.models import Site, StageName

RUN = Column("run", Reference(to="run"), "The run.", required=True)


class RunKeeper(Keeper):
    """Keeps what is reported of runs, and brings takeoffs and conductors up to it."""

    order = 0

    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Make reports of one site take turns."""
        if filings:
            lock(Site.objects.filter(pk=site.pk))

    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Keep each report, or put on it why not."""
        lengths = [filing for filing in filings if filing.kind.name == LengthsKind.name]
        sections = set(
            Section.objects.of(site).filter(run__in={filing["run"].pk for filing in lengths}).values_list("run", "seq")
        )
        for filing in lengths:
            if filing["section"] is not None and (filing["run"].pk, filing["section"]) not in sections:
                text = f"{filing['run']} has no section {filing['section']}."
                filing.error = RecordError(text, column="section", found=str(filing["section"]))
            elif filing["length"] <= 0:
                filing.error = MalformedError("A measured length is above 0.", column="length")
        good = [filing for filing in lengths if not filing.error]
        for filing in good:
            said = Measured(filing["run"], filing["length"], filing["section"], filing["note"], filing.id)
            record_measurements(measured=[said], at=filing.at, by=filing.sender)
        stages = [filing for filing in filings if filing.kind.name == StageReportsKind.name]
        report_stages(
            site=site,
            reports=[
                StageReport(
                    run=filing["run"], event_id=filing.id, stage=filing["stage"], done=filing["done"], at=filing.at
                )
                for filing in stages
            ],
        )
        for filing in filings:
            if filing.reverses is not None and filing.reverses.kind == LengthsKind.name:
                for measurement in Measurement.objects.of(site).filter(event_id=filing.reverses.event_id):
                    forget_measurement(site=site, measurement=measurement)
            elif filing.reverses is not None and filing.reverses.kind == LengthChoicesKind.name:
                chosen = LengthChoice.objects.of(site).select_related("run").get(event_id=filing.reverses.event_id)
                record_length_choices([_choice(site, filing, chosen.way, takes_back=chosen)])
            elif filing.reverses is not None and filing.reverses.kind == NothingUsedKind.name:
                forget_nothing_used(site=site, event_id=filing.reverses.event_id)
            elif filing.reverses is not None:
                forget_stage_report(site=site, event_id=filing.reverses.event_id)
        record_nothing_used(
            [
                NothingUsed(
                    run=filing["run"], event_id=filing.id, stage=filing["stage"], item=filing["item"], at=filing.at
                )
                for filing in filings
                if filing.kind.name == NothingUsedKind.name
            ]
        )
        record_length_choices(
            [_choice(site, filing, filing["way"]) for filing in filings if filing.kind.name == LengthChoicesKind.name]
        )
        moving = {LengthsKind.name, StageReportsKind.name}
        if good or any(filing.reverses and filing.reverses.kind in moving for filing in filings):
            refresh_takeoffs(site=site)
        if stages:
            settle_takeoffs(site=site)


RUNS = RunKeeper()


class RunReportKind(RecordKind):
    """Something that is reported of a run."""

    permission = MEASURE
    keeper = RUNS

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the run that it is about."""
        return f"run {said['run']}"


class LengthsKind(RunReportKind):
    """Centre lines as built; the latest counts."""

    name = "lengths"
    order = 204
    rank = 0
    help = "Centre lines as built, of a run or of one section. The latest counts."
    columns = (
        ID,
        RUN,
        Column("length", Length(above_zero=True), "Along the centre line, end to end.", required=True),
        AT,
        Column("section", Whole(least=1), "The section's seq.", default_help="the whole run"),
        Column("note", Text(200), "What else there is to say.", default="", default_help="none"),
        BY,
    )


class StageReportsKind(RunReportKind):
    """How far stages are; the latest report of a stage counts."""

    name = "stage_reports"
    order = 206
    rank = 0
    help = "When stages were done. The latest report of a stage counts; when it is planned stays as it is."
    columns = (
        ID,
        RUN,
        Column("stage", Choice(tuple(StageName.values)), "The stage.", required=True),
        AT,
        Column("done", Moment(end_of_day=True), "When it was done.", default_help="open again"),
        BY,
    )


class NothingUsedKind(RunReportKind):
    """That a stage used nothing of an item: the answer to a stage that is done with nothing handed out."""

    name = "nothing_used"
    order = 207
    rank = 0
    help = "Of which planned items a finished stage used nothing. What is handed out to it outweighs that."
    permission = HAND_OUT
    columns = (
        ID,
        RUN,
        Column("stage", Choice(tuple(StageName.values)), "The stage.", required=True),
        Column("item", Reference(to="item"), "The item.", required=True),
        AT,
        BY,
    )


class LengthChoicesKind(RunReportKind):
    """How planners let cable be cut of runs that are not measured; the latest counts."""

    name = "length_choices"
    order = 208
    rank = 0
    help = (
        "How a planner lets the cable of a run be cut: to the drawing, or only once it is measured. The latest counts."
    )
    permission = PLAN
    columns = (
        ID,
        RUN,
        Column("way", Choice(tuple(LengthChoice.Way.values)), "To the drawing, or measure first.", required=True),
        Column("reason", Text(300), "Why.", required=True),
        AT,
        BY,
    )


def _choice(site: Site, filing: Filing, way: str, takes_back: LengthChoice | None = None) -> LengthChoice:
    """Return a choice as a record tells it, or what takes one back."""
    return LengthChoice(
        site=site,
        event_id=filing.id,
        run=takes_back.run if takes_back else filing["run"],
        way=way,
        reason=filing["reason"],
        takes_back=takes_back,
        at=filing.at,
        recorded_at=filing.record.recorded_at,
        by=filing.sender,
    )


register_kind(LengthsKind())
register_kind(StageReportsKind())
register_kind(NothingUsedKind())
register_kind(LengthChoicesKind())
