"""Every write of runs, their parts and their measured lengths."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError

from takeoff.database.bulk import rewrite
from takeoff.runs.geometry.cut_lengths import GROUND, NEUTRAL, sets_of
from takeoff.runs.geometry.facts import CableFacts, RunFacts
from takeoff.runs.models import (
    Conductor,
    LengthChoice,
    Measurement,
    NothingUsed,
    Run,
    Section,
    Stage,
    StageReport,
)
from takeoff.sheets.matching import Matched, bulk_save
from takeoff.sites.models import Site


class InUseError(ValidationError):
    """Conductors that cannot vanish because something is recorded against them; `names` lists them."""

    def __init__(self, names: Sequence[str], records: Iterable[str]) -> None:
        listed = ", ".join(names)
        super().__init__(f"{listed} cannot vanish, for {' and '.join(sorted(set(records)))} names it")
        self.names = tuple(names)


@transaction.atomic
def derive_conductors(*, site: Site, runs: Sequence[Run]) -> dict[int, InUseError]:
    """
    Bring the conductors of runs to those that their phases, neutrals and ground cables give: A1 … N1 … G1.

    In a fixed number of queries.

    Returns the refusals by primary key of the run; those runs keep the conductors that cannot vanish.
    """
    existing: dict[int, dict[str, Conductor]] = {run.pk: {} for run in runs}
    for conductor in Conductor.objects.of(site).filter(run__in=[run.pk for run in runs]):
        existing[conductor.run_id][conductor.name] = conductor
    new: list[Conductor] = []
    changed: list[Conductor] = []
    gone: dict[int, list[Conductor]] = {}
    for run in runs:
        made, altered, removed = _derived(run, existing[run.pk])
        new += made
        changed += altered
        if removed:
            gone[run.pk] = removed
    refused: dict[int, InUseError] = {}
    try:
        _remove(site, [conductor for removed in gone.values() for conductor in removed])
    except InUseError:
        # Rare: only now is it worth a query for each run, to say which.
        for run_pk, removed in gone.items():
            try:
                _remove(site, removed)
            except InUseError as error:
                refused[run_pk] = error
    bulk_save(Conductor.objects.of(site), new=new, changed=changed, fields={"cable"})
    return refused


@transaction.atomic
def forget_measurements(*, site: Site, sections: Sequence[Section]) -> None:
    """Delete the measured lengths of sections that are no longer: another section may take their place."""
    gone = {(section.run_id, section.seq) for section in sections}
    found = Measurement.objects.of(site).filter(run__in={run for run, _seq in gone}, section_seq__isnull=False)
    measured = found.values_list("pk", "run_id", "section_seq")
    Measurement.objects.of(site).filter(pk__in=[pk for pk, run, seq in measured if (run, seq) in gone]).delete()


@transaction.atomic
def forget_measurement(*, site: Site, measurement: Measurement) -> None:
    """
    Delete a measured length that is taken back, so that the latest of the others counts.

    Its record stays, where it has one, and so does the one that takes it back. Takeoffs are rewritten by
    `refresh_takeoffs`, which the caller owes.
    """
    Measurement.objects.of(site).filter(pk=measurement.pk).delete()


@transaction.atomic
def place_conductors(*, site: Site, conductors: Sequence[Conductor]) -> None:
    """Keep tier, position and extra length of conductors as the drawing gives them."""
    rewrite(Conductor.objects.of(site), conductors, ["tier", "position", "extra"])


@transaction.atomic
def save_stages(*, site: Site, matched: Matched[Stage]) -> None:
    """Create and change when stages are planned and were done."""
    bulk_save(Stage.objects.of(site), new=matched.new, changed=matched.changed, fields=matched.fields)


@transaction.atomic
def report_stages(*, site: Site, reports: Sequence[StageReport]) -> None:
    """Keep what was reported of stages; the latest report of each stage says when it was done."""
    StageReport.objects.bulk_create(reports)
    bring_stages_up_to_reports(site=site, stages={(report.run_id, report.stage) for report in reports})


@transaction.atomic
def forget_stage_reports(*, site: Site, event_ids: Collection[str]) -> None:
    """Delete reports that are taken back: the ones before them count, none leaves a stage open."""
    gone = StageReport.objects.of(site).filter(event_id__in=event_ids)
    stages = set(gone.values_list("run", "stage"))
    gone.delete()
    bring_stages_up_to_reports(site=site, stages=stages)


@transaction.atomic
def record_nothing_used(unused: Sequence[NothingUsed]) -> None:
    """Keep that stages used nothing of some items."""
    NothingUsed.objects.bulk_create(unused)


@transaction.atomic
def forget_nothing_used(*, site: Site, event_ids: Collection[str]) -> None:
    """Delete answers that are taken back: their stages are asked about again."""
    NothingUsed.objects.of(site).filter(event_id__in=event_ids).delete()


def bring_stages_up_to_reports(*, site: Site, stages: Collection[tuple[int, str]]) -> None:
    """Set when stages were done to what was last reported of them; when they are planned stays as it is."""
    runs = {run for run, _ in stages}
    latest = {(row.run_id, row.stage): row.done for row in StageReport.objects.of(site).filter(run__in=runs)}
    existing = {(row.run_id, row.stage): row for row in Stage.objects.of(site).filter(run__in=runs)}
    rows = [existing.get(key) or Stage(run_id=key[0], stage=key[1]) for key in sorted(stages)]
    for row in rows:
        row.done = latest.get((row.run_id, row.stage))
    new, changed = [row for row in rows if not row.pk], [row for row in rows if row.pk]
    bulk_save(Stage.objects.of(site), new=new, changed=changed, fields={"done"})


@transaction.atomic
def record_measurements(measured: Sequence[Measurement]) -> None:
    """
    Add measured centre lines; earlier ones are kept, the latest counts.

    Takeoffs are rewritten by `refresh_takeoffs`, which the caller owes.
    """
    Measurement.objects.bulk_create(measured)


@transaction.atomic
def record_length_choices(choices: Sequence[LengthChoice]) -> None:
    """Keep how planners let runs' cable be cut, and which of these choices were taken back."""
    LengthChoice.objects.bulk_create(choices)


def _derived(run: Run, existing: Mapping[str, Conductor]) -> tuple[list[Conductor], list[Conductor], list[Conductor]]:
    """Return a run's conductors that are to be made, that change their cable, and that fall away."""
    cables = {NEUTRAL: run.neutral_cable_id or run.cable_id, GROUND: run.ground_cable_id}
    new, changed, wanted = [], [], set()
    for set_name, names in sets_of(_counts(run)).items():
        cable_id = cables.get(set_name, run.cable_id)
        for name in names:
            wanted.add(name)
            conductor = existing.get(name)
            if conductor is None:
                new.append(Conductor(run=run, name=name, cable_id=cable_id))
            elif conductor.cable_id != cable_id:
                conductor.cable_id = cable_id
                changed.append(conductor)
    return new, changed, [conductor for name, conductor in existing.items() if name not in wanted]


def _counts(run: Run) -> RunFacts:
    """Return of a run what its conductors' names follow from."""
    return RunFacts(
        name=run.name,
        tiers=run.tiers,
        phases=run.phases,
        cables_per_phase=run.cables_per_phase,
        cable=CableFacts(code="", size="", material=""),
        neutrals=run.neutrals,
        ground_cables=run.ground_cables,
    )


def _remove(site: Site, conductors: Sequence[Conductor]) -> None:
    """Delete conductors, or raise InUseError before any is deleted."""
    if not conductors:
        return
    by_pk = {conductor.pk: conductor.name for conductor in conductors}
    try:
        Conductor.objects.of(site).filter(pk__in=by_pk).delete()
    except ProtectedError as error:
        held, records = set(), set()
        for record in error.protected_objects:
            records.add(f"a {record._meta.verbose_name}")
            for field in record._meta.concrete_fields:
                if field.related_model is Conductor:
                    held.add(by_pk.get(getattr(record, field.attname), ""))
        raise InUseError(sorted(held - {""}) or sorted(by_pk.values()), records) from error
