"""Reads of runs that takeoffs, plans and pages share, each in a number of queries that does not grow with the runs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from takeoff.catalogue.models import Cable
from takeoff.runs.facts import CableFacts, ConductorFacts, CrossingFacts, EndFacts, RunFacts, SectionFacts
from takeoff.runs.models import Measurement, Run
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet
from takeoff.units.exact import to_ticks


def runs_with_parts(site: Site) -> SiteQuerySet[Run]:
    """Return the runs of a site by name, with all that their facts are read from."""
    return (
        Run.objects.of(site)
        .select_related("cable", "neutral_cable", "ground_cable")
        .prefetch_related("ends", "sections__item", "sections__cover_item", "crossings", "conductors", "measurements")
        .order_by("name")
    )


def facts_of(site: Site) -> dict[int, RunFacts]:
    """Return every run of a site as plain facts, by primary key."""
    return {run.pk: run_facts(run) for run in runs_with_parts(site)}


def run_facts(run: Run) -> RunFacts:
    """Return one run as plain facts; fetch it by `runs_with_parts`, or this asks once per part."""
    of_run, of_sections = latest_measurements(run.measurements.all())
    return RunFacts(
        name=run.name,
        tiers=run.tiers,
        phases=run.phases,
        cables_per_phase=run.cables_per_phase,
        cable=cable_facts(run.cable),
        neutrals=run.neutrals,
        neutral_cable=cable_facts(run.neutral_cable) if run.neutral_cable else None,
        ground_cable=cable_facts(run.ground_cable) if run.ground_cable else None,
        ground_cables=run.ground_cables,
        voltage_class=run.voltage_class,
        location=run.location,
        breaker_amps=run.breaker_amps,
        slack=run.slack,
        pull_allowance=to_ticks(run.pull_allowance),
        centre_spacing=_ticks(run.centre_spacing),
        drawing_length=_ticks(run.drawing_length),
        measured=of_run,
        sections=tuple(
            SectionFacts(
                seq=section.seq,
                kind=section.kind,
                length=to_ticks(section.length),
                lie=section.lie,
                angle=section.angle,
                turn=section.turn,
                radius=_ticks(section.radius),
                cover=section.cover,
                item=section.item.code if section.item else "",
                mark=section.mark,
                cover_item=section.cover_item.code if section.cover_item else "",
                measured=of_sections.get(section.seq),
            )
            for section in run.sections.all()
        ),
        ends=tuple(
            EndFacts(
                end=end.end,
                stick_out=to_ticks(end.stick_out),
                min_stick_out=_ticks(end.min_stick_out),
                ground_tail=to_ticks(end.ground_tail),
                lug_holes=end.lug_holes,
                ground_lug_holes=end.ground_lug_holes,
                seal=end.seal,
                seal_width=_ticks(end.seal_width),
                seal_height=_ticks(end.seal_height),
            )
            for end in sorted(run.ends.all(), key=lambda end: end.end)
        ),
        crossings=tuple(
            CrossingFacts(
                at=to_ticks(crossing.at),
                kind=crossing.kind,
                width=_ticks(crossing.width),
                height=_ticks(crossing.height),
                depth=_ticks(crossing.depth),
                fire_rated=crossing.fire_rated,
                seal=crossing.seal,
            )
            for crossing in run.crossings.all()
        ),
        conductors=tuple(
            ConductorFacts(
                name=conductor.name,
                tier=conductor.tier,
                position=conductor.position,
                extra=to_ticks(conductor.extra),
            )
            for conductor in sorted(run.conductors.all(), key=lambda conductor: conductor.name)
        ),
    )


def cable_facts(cable: Cable) -> CableFacts:
    """Return a cable as plain facts."""
    return CableFacts(
        code=cable.code,
        size=cable.size,
        material=cable.material,
        voltage_class=cable.voltage_class,
        insulation=cable.insulation,
        shielded=cable.shielded,
        diameter=_ticks(cable.diameter),
    )


def latest_measurements(measurements: Iterable[Measurement]) -> tuple[int | None, dict[int, int]]:
    """
    Return the measured centre line of the run and those of its sections, in ticks; the latest rules.

    A run measured as a whole counts until one of its sections is measured after it: then the sections count.
    """
    of_run: tuple[datetime, int] | None = None
    of_sections: dict[int, int] = {}
    newest: datetime | None = None
    for measurement in sorted(measurements, key=lambda one: (one.at, one.pk)):
        length = to_ticks(measurement.length)
        if measurement.section_seq is None:
            of_run = measurement.at, length
        else:
            of_sections[measurement.section_seq] = length
            newest = measurement.at
    if of_run is None or (newest is not None and newest > of_run[0]):
        return None, of_sections
    return of_run[1], of_sections


def _ticks(value: object) -> int | None:
    return None if value is None else to_ticks(value)  # type: ignore[arg-type]  # a Decimal from the model
