"""Every write of runs, their parts and their measured lengths."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import ProtectedError
from django.utils import timezone

from takeoff.database.bulk import rewrite
from takeoff.people.models import User
from takeoff.runs.geometry.facts import CableFacts, RunFacts
from takeoff.runs.geometry.lengths import GROUND, NEUTRAL, sets_of
from takeoff.runs.models import Conductor, Crossing, LengthChoice, Measurement, Run, RunEnd, Section, Stage
from takeoff.sheets.matching import Matched, bulk_save
from takeoff.sites.models import Site

Part = TypeVar("Part", RunEnd, Section, Crossing)


@dataclass(frozen=True, slots=True)
class Measured:
    """A centre line as built: of the whole run, or of the section `seq`. [mm]"""

    run: Run
    length: Decimal
    seq: int | None = None
    note: str = ""


class InUseError(ValidationError):
    """Conductors that cannot vanish because something is recorded against them; `names` lists them."""

    def __init__(self, names: Sequence[str], records: Iterable[str]) -> None:
        listed = ", ".join(names)
        super().__init__(f"{listed} cannot vanish, for {' and '.join(sorted(set(records)))} names it")
        self.names = tuple(names)


@transaction.atomic
def save_runs(*, site: Site, matched: Matched[Run]) -> None:
    """Create and change runs. Their conductors are made by `derive_conductors`, which the caller owes."""
    bulk_save(Run.objects.of(site), new=matched.new, changed=matched.changed, fields=matched.fields, keys=True)


@transaction.atomic
def derive_conductors(*, site: Site, run: Run, existing: Mapping[str, Conductor]) -> None:
    """
    Bring the conductors of one run to those that its phases, neutrals and ground cables give: A1 … N1 … G1.

    existing : the run's conductors by name.
    Raises InUseError when one that falls away has been cut or is held by another record.
    """
    new, changed, gone = _derived(run, existing)
    _remove(site, gone)
    bulk_save(Conductor.objects.of(site), new=new, changed=changed, fields={"cable"})


@transaction.atomic
def derive_all_conductors(*, site: Site, runs: Sequence[Run]) -> dict[int, InUseError]:
    """
    Bring the conductors of many runs to those that each run gives, in a fixed number of queries.

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
def replace_parts(*, rows: models.QuerySet[Part], matched: Matched[Part]) -> None:
    """Bring ends, sections or crossings to what a sheet says of their runs; `rows` are those of the site."""
    if matched.removed:
        rows.filter(pk__in=[part.pk for part in matched.removed]).delete()
    bulk_save(rows, new=matched.new, changed=matched.changed, fields=matched.fields)


@transaction.atomic
def forget_measurements(*, site: Site, sections: Sequence[Section]) -> None:
    """Delete the measured lengths of sections that are no longer: another section may take their place."""
    gone = {(section.run_id, section.seq) for section in sections}
    found = Measurement.objects.of(site).filter(run__in={run for run, _seq in gone}, section_seq__isnull=False)
    measured = found.values_list("pk", "run_id", "section_seq")
    Measurement.objects.of(site).filter(pk__in=[pk for pk, run, seq in measured if (run, seq) in gone]).delete()


@transaction.atomic
def take_back_measurement(*, site: Site, run: Run, measurement_id: int) -> Measurement | None:
    """
    Delete one measured length of a run, so that the latest of the others counts; return what it was.

    None when the run has no such measurement any more. Takeoffs are rewritten by `refresh_takeoffs`, which the caller
    owes. What was measured describes the run as its sheets do: it is no event of the ledger, where a correction would
    be posted.
    """
    found = Measurement.objects.of(site).filter(run=run, pk=measurement_id).select_related("by").first()
    if found is not None:
        Measurement.objects.of(site).filter(pk=found.pk).delete()
    return found


@transaction.atomic
def place_conductors(*, site: Site, conductors: Sequence[Conductor]) -> None:
    """Keep tier, position and extra length of conductors as the drawing gives them."""
    rewrite(Conductor.objects.of(site), conductors, ["tier", "position", "extra"])


@transaction.atomic
def save_stages(*, site: Site, matched: Matched[Stage]) -> None:
    """Create and change when stages are planned and were done."""
    bulk_save(Stage.objects.of(site), new=matched.new, changed=matched.changed, fields=matched.fields)


@transaction.atomic
def record_measurements(
    *, measured: Sequence[Measured], at: datetime | None = None, by: User | None = None
) -> list[Measurement]:
    """
    Add measured centre lines, dated `at` (now, where it is not given); earlier ones are kept, the latest counts.

    Takeoffs are rewritten by `refresh_takeoffs`, which the caller owes. Raises ValidationError for 0 or less.
    """
    moment = at or timezone.now()
    for each in measured:
        if each.length <= 0:
            raise ValidationError(f"a measured length is above 0; {each.length} mm is not", code="not_above_zero")
    return Measurement.objects.bulk_create(
        [
            Measurement(run=each.run, section_seq=each.seq, length=each.length, at=moment, by=by, note=each.note)
            for each in measured
        ]
    )


@transaction.atomic
def choose_length(
    *, site: Site, event_id: str, run: Run, way: str, reason: str, at: datetime, by: User | None = None
) -> LengthChoice:
    """
    Keep how a planner lets a run's cable be cut: to the drawing, or only once it is measured; the latest rules.

    Sending it twice changes nothing. Raises ValidationError for a reason that says nothing, and for an id that stands
    for another choice.
    """
    wanted = {"run_id": run.pk, "way": LengthChoice.Way(way), "reason": reason.strip()}
    if not wanted["reason"]:
        raise ValidationError("A choice of length needs a reason.", code="no_reason")
    rest = {"at": at, "recorded_at": timezone.now(), "by": by}
    choice, _new = LengthChoice.objects.of(site).get_or_create(
        site=site, event_id=event_id, defaults={**wanted, **rest}
    )
    if any(getattr(choice, name) != value for name, value in wanted.items()):
        raise ValidationError(f"{event_id} is another choice already; give this one an id of its own.", code="known")
    return choice


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
