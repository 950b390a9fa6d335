"""What is reported of runs as they are built, lengths and stages: the kinds of record, and what follows from them."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping, Sequence
from typing import Any

from takeoff.database.locks import lock
from takeoff.people.permissions import HAND_OUT, MEASURE, PLAN
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, by_kind, register_kind, taking_back
from takeoff.records.terms.errors import RecordError
from takeoff.rules.services import refresh_takeoffs, settle_takeoffs
from takeoff.runs.models import LengthChoice, Measurement, NothingUsed, Section, StageReport
from takeoff.runs.services import (
    forget_measurement,
    forget_nothing_used,
    forget_stage_reports,
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
        for kind, mine in by_kind(filings).items():
            kind.keep(site, mine)
        for kind, mine in taking_back(filings).items():
            kind.take_back(site, mine)

    def follow(self, site: Site, filings: Sequence[Filing]) -> None:
        """Rewrite takeoffs where lengths changed, settle them where stages did."""
        touched = {kind.name for kind in (*by_kind(filings), *taking_back(filings))}
        if LengthsKind.name in touched:
            refresh_takeoffs(site=site)
        elif StageReportsKind.name in touched:
            settle_takeoffs(site=site)


RUNS = RunKeeper()


class RunReportKind(RecordKind):
    """Something that is reported of a run."""

    permission = MEASURE
    keeper = RUNS

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the run that it is about."""
        return f"run {said['run']}"

    @abstractmethod
    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Keep each report, or put on it why not."""

    @abstractmethod
    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Let what was reported count no longer."""


def _ids(filings: Sequence[Filing]) -> list[str]:
    return [filing.reverses.event_id for filing in filings if filing.reverses]


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

    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Add the lengths; a section that the run does not have is refused."""
        runs = {filing["run"].pk for filing in filings}
        sections = set(Section.objects.of(site).filter(run__in=runs).values_list("run", "seq"))
        for filing in filings:
            if filing["section"] is not None and (filing["run"].pk, filing["section"]) not in sections:
                text = f"{filing['run']} has no section {filing['section']}."
                filing.error = RecordError(text, column="section", found=str(filing["section"]))
        record_measurements(
            [
                Measurement(
                    run=filing["run"],
                    event_id=filing.id,
                    section_seq=filing["section"],
                    length=filing["length"],
                    at=filing.at,
                    by=filing.sender,
                    note=filing["note"],
                )
                for filing in filings
                if not filing.error
            ]
        )

    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Forget the lengths, so that the latest of the others counts."""
        for measurement in Measurement.objects.of(site).filter(event_id__in=_ids(filings)):
            forget_measurement(site=site, measurement=measurement)


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

    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Add the reports."""
        said = ("run", "stage", "done")
        reports = [
            StageReport(event_id=filing.id, at=filing.at, **{name: filing[name] for name in said}) for filing in filings
        ]
        report_stages(site=site, reports=reports)

    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Forget the reports, so that the ones before them count."""
        forget_stage_reports(site=site, event_ids=_ids(filings))


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

    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Add the answers."""
        said = ("run", "stage", "item")
        record_nothing_used(
            [
                NothingUsed(event_id=filing.id, at=filing.at, **{name: filing[name] for name in said})
                for filing in filings
            ]
        )

    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Forget the answers: their stages are asked about again."""
        forget_nothing_used(site=site, event_ids=_ids(filings))


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

    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Add the choices."""
        record_length_choices([_choice(site, filing, filing["way"]) for filing in filings])

    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Add that the choices never were."""
        chosen = LengthChoice.objects.of(site).select_related("run").filter(event_id__in=_ids(filings))
        by_id = {choice.event_id: choice for choice in chosen}
        rows = [(filing, by_id[id_]) for filing, id_ in zip(filings, _ids(filings), strict=True)]
        record_length_choices([_choice(site, filing, choice.way, takes_back=choice) for filing, choice in rows])


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
