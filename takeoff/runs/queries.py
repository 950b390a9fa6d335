"""Reads of runs that takeoffs, plans and pages share, each in a number of queries that does not grow with the runs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from takeoff.catalogue.models import Cable
from takeoff.runs.geometry.facts import CableFacts, ConductorFacts, CrossingFacts, EndFacts, RunFacts, SectionFacts
from takeoff.runs.models import LengthChoice, Measurement, Run, Section
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


# Of a section, what its facts are made of, in this order: as columns for many runs, from the model for one.
SECTION_COLUMNS = (
    *("seq", "kind", "length", "lie", "angle", "turn", "radius", "cover", "item__code", "mark", "cover_item__code"),
)


def facts_of(site: Site) -> dict[int, RunFacts]:
    """Return every run of a site as plain facts, by primary key."""
    # Sections are most of a site; as plain columns they come in a third of the time that models take.
    sections: dict[int, list[tuple[Any, ...]]] = {}
    columns = Section.objects.of(site).order_by("run_id", "seq").values_list("run_id", *SECTION_COLUMNS)
    for run_id, *values in columns:
        sections.setdefault(run_id, []).append(tuple(values))
    runs = (
        Run.objects.of(site)
        .select_related("cable", "neutral_cable", "ground_cable")
        .prefetch_related("ends", "crossings", "conductors", "measurements")
        .order_by("name")
    )
    return {run.pk: _facts(run, sections.get(run.pk, [])) for run in runs}


def run_facts(run: Run) -> RunFacts:
    """Return one run as plain facts; fetch it by `runs_with_parts`, or this asks once per part."""
    return _facts(run, [_section_values(section) for section in run.sections.all()])


def _section_values(section: Section) -> tuple[Any, ...]:
    """Return `SECTION_COLUMNS` of a section."""
    values = []
    for column in SECTION_COLUMNS:
        name, _, code = column.partition("__")
        value = getattr(section, name)
        values.append(value.code if code and value else value)
    return tuple(values)


def _section_facts(values: tuple[Any, ...], of_sections: Mapping[int, int]) -> SectionFacts:
    """Return a section as plain facts from `SECTION_COLUMNS`."""
    seq, kind, length, lie, angle, turn, radius, cover, item, mark, cover_item = values
    return SectionFacts(
        seq=seq,
        kind=kind,
        length=to_ticks(length),
        lie=lie,
        angle=angle,
        turn=turn,
        radius=_ticks(radius),
        cover=cover,
        item=item or "",
        mark=mark,
        cover_item=cover_item or "",
        measured=of_sections.get(seq),
    )


def _facts(run: Run, sections: Sequence[tuple[Any, ...]]) -> RunFacts:
    """Return a run as plain facts, its sections given as `SECTION_COLUMNS`."""
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
        sections=tuple(_section_facts(values, of_sections) for values in sections),
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


def counting(measurements: Iterable[Measurement]) -> frozenset[int]:
    """Return the primary keys of the measurements that count now, as `latest_measurements` reads them."""
    rows = sorted(measurements, key=lambda one: (one.at, one.pk))
    of_run, _of_sections = latest_measurements(rows)
    latest = {row.section_seq: row.pk for row in rows}
    whole = latest.pop(None, None)
    return frozenset(latest.values()) if of_run is None or whole is None else frozenset({whole})


@dataclass(frozen=True, slots=True)
class LengthStanding:
    """
    Whether cable for a run may be cut.

    measured : its centre line is, as a whole or in every section. choice : what a planner chose last, None without one.
    """

    measured: bool
    choice: LengthChoice | None = None

    @property
    def to_the_drawing(self) -> bool:
        """Whether a planner lets it be cut to the drawing."""
        return self.choice is not None and self.choice.way == LengthChoice.Way.DRAWING

    @property
    def may_be_cut(self) -> bool:
        """Whether a length of it may come off a reel now."""
        return self.measured or self.to_the_drawing


def length_standings(site: Site, runs: Collection[int]) -> dict[int, LengthStanding]:
    """Return for runs of a site, by primary key, whether their cable may be cut, in three queries."""
    measured: dict[int, list[Measurement]] = defaultdict(list)
    for row in Measurement.objects.of(site).filter(run__in=runs):
        measured[row.run_id].append(row)
    sections: dict[int, set[int]] = defaultdict(set)
    for run, seq in Section.objects.of(site).filter(run__in=measured).order_by().values_list("run_id", "seq"):
        sections[run].add(seq)
    choices = LengthChoice.objects.of(site).filter(run__in=runs, takes_back=None, taken_back_by=None)
    latest = {choice.run_id: choice for choice in choices.order_by("at", "id").select_related("by")}
    return {
        run: LengthStanding(_is_measured(measured.get(run, ()), sections[run]), latest.get(run)) for run in sorted(runs)
    }


def _is_measured(measurements: Iterable[Measurement], sections: set[int]) -> bool:
    """Return whether nothing of a centre line is by the drawing."""
    of_run, of_sections = latest_measurements(measurements)
    return of_run is not None or (bool(sections) and sections <= of_sections.keys())


def _ticks(value: object) -> int | None:
    return None if value is None else to_ticks(value)  # type: ignore[arg-type]  # a Decimal from the model
