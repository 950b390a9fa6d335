"""
Reading cut plans: from a site to the problem of a cable, why a plan is stale, and the crew's cut list.

Each takes a constant number of queries. Lengths are ticks (1/10 000 mm) unless a name says units of the planning grid.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from reels.ledger.models import Cut, Reel
from reels.ledger.queries import ConductorEntry, Ledger, ReelEntry, ledger, planned_dates, set_name
from reels.planning.cut_list import Mark, marks_to_cut_at
from reels.planning.grid import Grid, grid_of
from reels.planning.inputs import Change, CutMade, Inputs, Name, changes
from reels.planning.models import CutPlan, PlannedCut
from reels.planning.options import Options
from reels.planning.problem import Assigned, Demand, Limits, Problem, Rates
from reels.planning.problem import Reel as PlannedReel
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Conductor, Measurement
from takeoff.runs.queries import latest_measurements
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.lengths import show_length


@dataclass(frozen=True, slots=True)
class Gathered:
    """
    The problem of one cable of a site, with the way back from it.

    conductors : the conductors of each demand, by name. reels : the reels of the problem by tag. unmeasured :
    conductors that have no length yet, because their run has no takeoff. buys : length as sold by its usable units.
    """

    site: Site
    cable: Cable
    problem: Problem
    inputs: Inputs
    grid: Grid
    conductors: dict[str, list[ConductorEntry]]
    reels: dict[str, ReelEntry]
    unmeasured: tuple[ConductorEntry, ...]
    buys: dict[int, int]


def options_of(plan: CutPlan) -> Options:
    """Return what was asked of a stored plan."""
    rates = Rates(Fraction(plan.rate_whole), Fraction(plan.rate_remnant), Fraction(plan.rate_setup))
    return Options(rates, plan.strict, plan.with_coming, float(plan.seconds_allowed))


def accepted_plan(site: Site, cable: Cable) -> CutPlan | None:
    """Return the plan that the crew follows for a cable, with its cuts."""
    plans = CutPlan.objects.of(site).filter(cable=cable, state=CutPlan.State.ACCEPTED)
    return plans.prefetch_related("cuts__reel", "cuts__conductor").first()


def gather(
    site: Site,
    cable: Cable,
    options: Options,
    *,
    as_of: date | None = None,
    books: Ledger | None = None,
) -> Gathered:
    """
    Return what there is to plan for a cable: lengths still to cut up to whole steps, reels down to them.

    What is already cut is neither in the needs nor on the reels. An accepted plan is what a new one should keep to.
    """
    books = books or ledger(site, as_of=as_of)
    grid = grid_of(site.planning_grid, site.unit)
    states = {Reel.State.ON_SITE, Reel.State.ON_THE_WAY} if options.with_coming else {Reel.State.ON_SITE}
    reels = {
        entry.reel.tag: entry
        for entry in books.reels
        if entry.reel.cable_id == cable.pk and entry.reel.state in states and grid.down(entry.usable) > 0
    }
    still_open = [e for e in books.conductors if e.conductor.cable_id == cable.pk and not e.is_cut]
    planned = planned_dates(site)
    demands, conductors = _demands(grid, [entry for entry in still_open if entry.need], planned)
    buys = {grid.down(_usable_when_new(site, length)): length for length in sorted(cable.buy_lengths, reverse=True)}
    problem = Problem(
        unit=grid.unit,
        reels=tuple(
            PlannedReel(tag, grid.down(entry.left), entry.whole, tail=grid.up(entry.tail))
            for tag, entry in reels.items()
        ),
        demands=demands,
        keep=max(1, grid.up(to_ticks(site.keep_length))),
        rates=options.rates,
        strict=options.strict,
        kept=_kept(site, cable, reels, conductors),
        buy_lengths=tuple(sorted(units for units in buys if units > 0)),
        limits=Limits(seconds=options.seconds),
    )
    runs = sorted({entry.conductor.run_id for entry in still_open})
    return Gathered(
        site=site,
        cable=cable,
        problem=problem,
        inputs=Inputs(
            reels={tag: entry.usable for tag, entry in reels.items()},
            cuts={tag: tuple(sorted(cut.event_id for cut in entry.cuts)) for tag, entry in reels.items()},
            needs={_name(entry.conductor): entry.need for entry in still_open},
            planned={e.conductor.run.name: _day(planned.get(e.conductor.run_id)) for e in still_open},
            as_built=_as_built(site, runs),
            settings=_settings(site, cable, grid, options),
        ),
        grid=grid,
        conductors=conductors,
        reels=reels,
        unmeasured=tuple(entry for entry in still_open if not entry.need),
        buys=buys,
    )


@dataclass(frozen=True, slots=True)
class Staleness:
    """
    Why a plan is not what would be planned now.

    followable : whether what is left of the plan can still be cut as it stands: every reel holds its share.
    """

    changes: tuple[Change, ...]
    followable: bool

    @property
    def is_stale(self) -> bool:
        """Whether anything changed since the plan was made."""
        return bool(self.changes)

    @property
    def off_plan(self) -> tuple[Change, ...]:
        """The changes that are not the plan itself being carried out."""
        return tuple(change for change in self.changes if not change.as_planned)


def staleness(plan: CutPlan, *, books: Ledger | None = None) -> Staleness:
    """Return what has changed since a stored plan was made: cuts, reels, as-built lengths, needs, dates, settings."""
    site = plan.site
    books = books or ledger(site)
    now = gather(site, plan.cable, options_of(plan), books=books)
    entries = {entry.conductor.pk: entry for entry in books.conductors}
    made = {
        _name(entry.conductor): CutMade(entry.cuts[0].reel.tag, entry.cuts[0].event_id)
        for entry in entries.values()
        if entry.is_cut
    }
    cuts = list(plan.cuts.select_related("reel", "conductor__run"))
    found = changes(
        Inputs.from_json(plan.inputs),
        now.inputs,
        made=made,
        planned_on={_name(cut.conductor): cut.reel.tag for cut in cuts},
        show=lambda ticks: show_length(ticks, site.unit),
    )
    wanted: dict[str, int] = defaultdict(int)
    for cut in cuts:
        entry = entries[cut.conductor_id]
        if not entry.is_cut:
            wanted[cut.reel.tag] += entry.need
    fits = all(tag in now.reels and total <= now.reels[tag].usable for tag, total in wanted.items())
    return Staleness(found, fits)


@dataclass(frozen=True, slots=True)
class CutLine:
    """One cut of the crew's list: `made` once it was cut (maybe off another reel), else with its marks."""

    planned: PlannedCut
    need: int
    made: Cut | None
    mark: Mark[int] | None

    @property
    def off_plan(self) -> bool:
        """Whether it was cut off another reel than planned."""
        return self.made is not None and self.made.reel_id != self.planned.reel_id


@dataclass(frozen=True, slots=True)
class ReelCutList:
    """The cuts of one reel in order, what is left after them, and whether that is a remnant, scrap or nothing."""

    entry: ReelEntry
    lines: tuple[CutLine, ...]
    left: int
    left_is: str

    @property
    def to_do(self) -> tuple[CutLine, ...]:
        """The cuts that are still to be made."""
        return tuple(line for line in self.lines if line.made is None)


def cut_list(plan: CutPlan, *, books: Ledger | None = None) -> list[ReelCutList]:
    """Return the crew's cut list of a plan by reel, with the marks to cut at as the reels stand now."""
    site = plan.site
    books = books or ledger(site)
    needs = {entry.conductor.pk: entry for entry in books.conductors}
    by_reel: dict[int, list[PlannedCut]] = defaultdict(list)
    for cut in plan.cuts.select_related("reel", "conductor__run").order_by("reel__tag", "seq"):
        by_reel[cut.reel_id].append(cut)
    reels = {entry.reel.pk: entry for entry in books.reels}
    return [
        _reel_list(site, reels[reel], cuts, needs)
        for reel, cuts in sorted(by_reel.items(), key=lambda pair: reels[pair[0]].reel.tag)
    ]


def cut_list_by_run(lists: Sequence[ReelCutList]) -> dict[str, list[CutLine]]:
    """Return the same cuts by run, conductors in order, each line naming its reel."""
    by_run: dict[str, list[CutLine]] = defaultdict(list)
    for line in (line for one in lists for line in one.lines):
        by_run[line.planned.conductor.run.name].append(line)
    return {run: sorted(lines, key=lambda x: x.planned.conductor.name) for run, lines in sorted(by_run.items())}


def cables_to_plan(site: Site) -> list[Cable]:
    """Return the cables of which something is still to be cut, by code."""
    still_open = {entry.conductor.cable_id for entry in ledger(site).conductors if not entry.is_cut}
    return list(Cable.objects.of(site).filter(pk__in=still_open).order_by("code"))


def stored_as_json(plan: CutPlan) -> dict[str, Any]:
    """Return a stored plan by the names of `plan_cuts --json`; lengths to buy in millimetres."""
    loads: dict[str, dict[str, int]] = {}
    for cut in plan.cuts.select_related("reel", "conductor__run").order_by("reel__tag", "seq"):
        cuts = loads.setdefault(cut.reel.tag, {})
        cuts[cut.conductor.run.name] = cuts.get(cut.conductor.run.name, 0) + 1
    return {
        "name": plan.cable.code,
        "kind": "reels",
        "seconds": round(plan.seconds or 0, 3),
        "stopped": plan.stopped,
        "levels": plan.levels,
        "bounds": plan.bounds,
        "plan": [{"reel": tag, "cuts": cuts} for tag, cuts in loads.items()],
        "unmet": dict(Counter(run for run, _, _ in plan.unmet)),
        "buy": [{"length": float(from_ticks(length)), "count": count} for length, count in plan.buy],
    }


def _reel_list(
    site: Site, entry: ReelEntry, cuts: Sequence[PlannedCut], needs: dict[int, ConductorEntry]
) -> ReelCutList:
    still_open = [(cut.pk, needs[cut.conductor_id].need) for cut in cuts if not needs[cut.conductor_id].is_cut]
    found = marks_to_cut_at(entry.marks, entry.books, still_open, Fraction(site.mark_allowance))
    marks = {mark.key: mark for mark in found}
    lines = []
    for cut in cuts:
        need = needs[cut.conductor_id]
        lines.append(CutLine(cut, need.need, need.cuts[0] if need.is_cut else None, marks.get(cut.pk)))
    left = max(0, entry.left - sum(length for _, length in still_open))
    keep = to_ticks(site.keep_length)
    left_is = "used up" if left == 0 else "remnant" if left >= keep else "scrap"
    return ReelCutList(entry, tuple(lines), left, left_is)


def _demands(
    grid: Grid, needs: Sequence[ConductorEntry], planned: dict[int, date]
) -> tuple[tuple[Demand, ...], dict[str, list[ConductorEntry]]]:
    """Conductors of one run, set and length are one demand; the earlier its cables are planned, the lower its class."""
    days = sorted({planned[entry.conductor.run_id] for entry in needs if entry.conductor.run_id in planned})
    classes = {day: number for number, day in enumerate(days, 1)}
    grouped: dict[tuple[str, str, int], list[ConductorEntry]] = defaultdict(list)
    for entry in sorted(needs, key=lambda entry: (entry.conductor.run.name, _natural(entry.conductor.name))):
        run, name = _name(entry.conductor)
        grouped[run, set_name(name), grid.up(entry.need)].append(entry)
    demands, conductors = [], {}
    for (run, set_, length), entries in grouped.items():
        day = planned.get(entries[0].conductor.run_id)
        key = f"{run} {set_} {length}"
        conductors[key] = entries
        demands.append(
            Demand(
                id=key,
                length=length,
                count=len(entries),
                set_id=f"{run} {set_}",
                run_id=run,
                date_class=len(days) + 1 if day is None else classes[day],
            )
        )
    return tuple(demands), conductors


def _kept(
    site: Site, cable: Cable, reels: dict[str, ReelEntry], conductors: dict[str, list[ConductorEntry]]
) -> tuple[Assigned, ...]:
    plan = accepted_plan(site, cable)
    if plan is None:
        return ()
    demand_of = {entry.conductor.pk: key for key, entries in conductors.items() for entry in entries}
    pieces: dict[tuple[str, str], int] = defaultdict(int)
    for cut in plan.cuts.all():
        if cut.reel.tag in reels and cut.conductor_id in demand_of:
            pieces[cut.reel.tag, demand_of[cut.conductor_id]] += 1
    return tuple(Assigned(reel, demand, count) for (reel, demand), count in sorted(pieces.items()))


def _usable_when_new(site: Site, length: int) -> int:
    """Return what may be planned of a reel of this length that is still to be bought, marks taken as untried."""
    allowance = Fraction(site.mark_allowance)
    lost = length - int(length / (1 + allowance))
    return max(0, length - max(lost, to_ticks(site.safety_tail)))


def _as_built(site: Site, runs: Sequence[int]) -> dict[str, str]:
    measured: dict[str, list[Measurement]] = defaultdict(list)
    rows = Measurement.objects.of(site).filter(run__in=runs).select_related("run").order_by("run", "at", "id")
    for row in rows:
        measured[row.run.name].append(row)
    told = {}
    for run, measurements in measured.items():
        whole, sections = latest_measurements(measurements)
        told[run] = f"{whole} {sorted(sections.items())}"
    return told


def _settings(site: Site, cable: Cable, grid: Grid, options: Options) -> dict[str, str]:
    return {
        "planning grid": grid.unit.label,
        "keep length": str(to_ticks(site.keep_length)),
        "safety tail": str(to_ticks(site.safety_tail)),
        "mark allowance": str(to_ticks(site.mark_allowance)),
        "buy lengths": ", ".join(str(length) for length in sorted(cable.buy_lengths)),
        "rates": f"{options.rates.whole} {options.rates.remnant} {options.rates.setup}",
        "strict order": str(options.strict),
        "reels on the way": str(options.with_coming),
    }


def _name(conductor: Conductor) -> Name:
    return conductor.run.name, conductor.name


def _natural(name: str) -> tuple[str, int]:
    letters = set_name(name)
    return letters, int(name[len(letters) :] or 0)


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
