"""Reads of runs that takeoffs, plans and pages share, each in a number of queries that does not grow with the runs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from functools import cache
from typing import Any, TypeVar

from django.db.models import Model

from takeoff.catalogue.models import Cable
from takeoff.database.fields import LengthField
from takeoff.runs.geometry.facts import CableFacts, ConductorFacts, CrossingFacts, EndFacts, RunFacts, SectionFacts
from takeoff.runs.models import LengthChoice, Measurement, Run, Section
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet
from takeoff.units.exact import to_ticks

F = TypeVar("F")


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
    return _plain(
        RunFacts,
        run,
        cable=_plain(CableFacts, run.cable),
        neutral_cable=_plain(CableFacts, run.neutral_cable) if run.neutral_cable else None,
        ground_cable=_plain(CableFacts, run.ground_cable) if run.ground_cable else None,
        measured=of_run,
        sections=tuple(_section_facts(values, of_sections) for values in sections),
        ends=tuple(_plain(EndFacts, end) for end in sorted(run.ends.all(), key=lambda end: end.end)),
        crossings=tuple(_plain(CrossingFacts, crossing) for crossing in run.crossings.all()),
        conductors=tuple(
            _plain(ConductorFacts, conductor)
            for conductor in sorted(run.conductors.all(), key=lambda conductor: conductor.name)
        ),
    )


def cable_facts(cable: Cable) -> CableFacts:
    """Return a cable as the geometry of runs takes it."""
    return _plain(CableFacts, cable)


@cache
def _fields(kind: type, model: type[Model]) -> tuple[tuple[str, bool], ...]:
    """Return the facts that a model has under the same name, and whether each is a length."""
    names = [field.name for field in fields(kind)]
    return tuple((each.name, isinstance(each, LengthField)) for each in model._meta.fields if each.name in names)


def _plain(kind: type[F], row: Model, **own: Any) -> F:
    """Return a row as plain facts: the fields of the same names, lengths in ticks, and what is given."""
    values = {
        name: _ticks(getattr(row, name)) if length else getattr(row, name)
        for name, length in _fields(kind, type(row))  # type: ignore[arg-type]  # a class has a hash
        if name not in own
    }
    return kind(**values, **own)


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
