"""
From a site to the problem of one cable, and from the planner's answer back to conductors and reels.

Each takes a constant number of queries, none where books and standing are given. Lengths are ticks (1/10 000 mm) unless
a name says units of the planning grid.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from reels.ledger.entries import ConductorEntry, Ledger, ReelEntry
from reels.ledger.marks.reading import Hands, length_taken, lost_to_reading
from reels.ledger.models import Reel
from reels.ledger.queries import hands_of, ledger, set_name
from reels.planner.check import check_plan
from reels.planner.grid import Grid, grid_of
from reels.planner.options import Options
from reels.planner.plan import Bounds, Levels, Plan, Progress
from reels.planner.problem import Assigned, Demand, Limits, Problem
from reels.planner.problem import StockReel as PlannedReel
from reels.plans.models import CutPlan, PlannedCut
from reels.plans.staleness import Inputs, Name
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Conductor, Measurement, Stage
from takeoff.runs.queries import latest_measurements
from takeoff.sites.models import Site, StageName
from takeoff.units.exact import to_ticks

# What a planner who was stopped still takes to see what is to buy beyond the reels on the way. [s]
AFTER_A_STOP = 1.0


@dataclass(frozen=True, slots=True)
class SiteProblem:
    """
    The problem of one cable of a site, with the way back from it.

    conductors : the conductors of each demand, by name. reels : the reels of the problem by tag. unmeasured :
    conductors that have no length yet, because their run has no takeoff. buys : length as sold by its usable units.
    before : the reel that the accepted plan gives each conductor.
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
    before: Mapping[int, str]

    def turn(self, entry: ConductorEntry) -> tuple[bool, str, str, int, tuple[str, int]]:
        """Return when a conductor comes off its reel: by the day of its run, the run, the longest first."""
        run, name = name_of(entry.conductor)
        day = self.inputs.planned.get(run, "")
        return not day, day, run, -entry.need, _natural(name)


@dataclass(frozen=True, slots=True)
class Standing:
    """
    What planning goes by beside the books, for all cables of a site.

    planned : the day on which each run's cables are planned. followed : by cable, the reel that the accepted plan gives
    each conductor. measured : the measurements of each run.
    """

    planned: Mapping[int, date]
    followed: Mapping[int, Mapping[int, str]]
    measured: Mapping[int, Sequence[Measurement]]


def read_standing(site: Site) -> Standing:
    """Return what planning goes by beside the books, in a constant number of queries."""
    followed: dict[int, dict[int, str]] = defaultdict(dict)
    accepted = PlannedCut.objects.of(site).filter(plan__state=CutPlan.State.ACCEPTED)
    for cable, conductor, tag in accepted.values_list("plan__cable_id", "conductor_id", "reel__tag"):
        followed[cable][conductor] = tag
    measured: dict[int, list[Measurement]] = defaultdict(list)
    for row in Measurement.objects.of(site).select_related("run").order_by("run", "at", "id"):
        measured[row.run_id].append(row)
    stages = Stage.objects.of(site).filter(stage=StageName.CABLES).values_list("run_id", "planned")
    return Standing({run: day for run, day in stages if day is not None}, followed, measured)


def gather(
    site: Site,
    cable: Cable,
    options: Options,
    *,
    as_of: date | None = None,
    books: Ledger | None = None,
    standing: Standing | None = None,
) -> SiteProblem:
    """
    Return what there is to plan for a cable: lengths still to cut up to whole steps, reels down to them.

    A length counts as what it takes when cut at a mark that a crew can read, so a plan cut as listed stays cuttable.

    What is already cut is neither in the needs nor on the reels. An accepted plan is what a new one should keep to.
    """
    books = books or ledger(site, as_of=as_of)
    standing = standing or read_standing(site)
    grid = grid_of(site.planning_grid, site.unit)
    states = {Reel.State.ON_SITE, Reel.State.ON_THE_WAY} if options.with_coming else {Reel.State.ON_SITE}
    reels = {
        entry.reel.tag: entry
        for entry in books.reels
        if entry.reel.cable_id == cable.pk and entry.reel.state in states and grid.down(entry.usable) > 0
    }
    still_open = books.open_of(cable.pk)
    planned, before = standing.planned, standing.followed.get(cable.pk, {})
    allowance, hands = Fraction(site.mark_allowance), hands_of(site)
    demands, conductors = _demands(
        grid, [entry for entry in still_open if entry.need], planned, _by_marks(reels.values(), allowance, hands)
    )
    buys = {grid.down(_usable_when_new(site, length)): length for length in sorted(cable.buy_lengths, reverse=True)}
    problem = Problem(
        unit=grid.unit,
        reels=tuple(
            PlannedReel(
                tag,
                grid.down(entry.left),
                entry.whole,
                tail=grid.up(entry.tail + lost_to_reading(entry.marks, entry.books, allowance, hands)),
            )
            for tag, entry in reels.items()
        ),
        demands=demands,
        keep=max(1, grid.up(to_ticks(site.keep_length))),
        rates=options.rates,
        strict=options.strict,
        kept=_kept(before, reels, conductors),
        buy_lengths=tuple(sorted(units for units in buys if units > 0)),
        limits=Limits(seconds=options.seconds),
    )
    runs = sorted({entry.conductor.run_id for entry in still_open})
    return SiteProblem(
        site=site,
        cable=cable,
        problem=problem,
        inputs=Inputs(
            reels={tag: entry.usable for tag, entry in reels.items()},
            cuts={tag: tuple(sorted(cut.event_id for cut in entry.cuts)) for tag, entry in reels.items()},
            needs={name_of(entry.conductor): entry.need for entry in still_open},
            planned={e.conductor.run.name: _day(planned.get(e.conductor.run_id)) for e in still_open},
            as_built=_as_built(standing.measured, runs),
            settings=_settings(site, cable, grid, options),
        ),
        grid=grid,
        conductors=conductors,
        reels=reels,
        unmeasured=tuple(entry for entry in still_open if not entry.need),
        buys=buys,
        before=before,
    )


@dataclass(frozen=True, slots=True)
class PlannedCable:
    """
    A plan of a gathered problem, checked, with its pieces shared out to conductors.

    buy_for : names of the runs that the reels on the way do not serve either; what to buy is for them.
    """

    gathered: SiteProblem
    plan: Plan
    shares: Shares
    buy_for: tuple[str, ...]


def solve(
    site: Site,
    cable: Cable,
    options: Options,
    *,
    as_of: date | None = None,
    books: Ledger | None = None,
    standing: Standing | None = None,
    progress: Callable[[SiteProblem], Progress] | None = None,
) -> PlannedCable:
    """
    Plan a cable now, without storing anything.

    Where something stays uncut, what to buy is what would still be missing once the reels on the way are here.
    progress : makes, from the problem, what the planner tells its progress. Raises PlanWrong for a plan that does not
    pass its check, ProblemError for a problem that contradicts itself.
    """
    from reels.planner.solve import plan_cuts  # the solver is slow to load: only for who plans

    books = books or ledger(site, as_of=as_of)
    standing = standing or read_standing(site)
    gathered = gather(site, cable, options, books=books, standing=standing)
    told = progress and progress(gathered)
    plan = plan_cuts(gathered.problem, told)
    check_plan(gathered.problem, plan)
    problem, buyer = gathered.problem, plan
    coming = any(e.reel.cable_id == cable.pk and e.reel.state == Reel.State.ON_THE_WAY for e in books.reels)
    if plan.unmet and coming and not options.with_coming:
        seconds = min(options.seconds, AFTER_A_STOP) if plan.stopped == "asked" else options.seconds
        more = replace(options, with_coming=True, seconds=seconds)
        problem = gather(site, cable, more, books=books, standing=standing).problem
        buyer = plan_cuts(problem, told and _what_to_buy(told, plan))
        check_plan(problem, buyer)
    runs = {demand.id: demand.run_id for demand in problem.demands}
    buy_for = tuple(sorted({runs[missing.demand] for missing in buyer.unmet}))
    return PlannedCable(gathered, plan, back_to_conductors(gathered, plan, buyer), buy_for)


def _what_to_buy(told: Progress, plan: Plan) -> Progress:
    """Tell of a plan that only looks for what to buy, with the levels of the one that it is for."""
    heard = plan.stopped == "asked"

    def tell(_stage: str, elapsed: float, _levels: Levels, _bounds: Bounds) -> bool:
        # A person who asked to stop is not asked again: this one has a short time of its own.
        return bool(told("what to buy", elapsed, plan.levels, plan.bounds)) and not heard

    return tell


@dataclass(frozen=True, slots=True)
class Shares:
    """
    An answer by conductor.

    cuts : the reel and the conductors that come off it in the order to cut, by the answer's order of reels.
    uncut : conductors that found no reel. buy : (length as sold, count).
    buy_least : no purchase below this total is enough; None where
    nothing is to buy. [ticks]
    """

    cuts: tuple[tuple[ReelEntry, tuple[ConductorEntry, ...]], ...]
    uncut: tuple[ConductorEntry, ...]
    buy: tuple[tuple[int, int], ...]
    buy_least: int | None


def back_to_conductors(gathered: SiteProblem, answer: Plan, buyer: Plan) -> Shares:
    """
    Name a conductor for every piece of an answer, and lengths as they are sold for what to buy, as `buyer` has it.

    A conductor stays on the reel that the accepted plan gave it where that reel gets pieces of its demand.
    """
    waiting = {key: list(entries) for key, entries in gathered.conductors.items()}
    chosen: dict[tuple[str, str], list[ConductorEntry]] = defaultdict(list)
    pieces = [(load.reel, piece) for load in answer.loads for piece in load.cuts]
    for reel, piece in pieces:
        stay = [entry for entry in waiting[piece.demand] if gathered.before.get(entry.conductor.pk) == reel]
        for entry in stay[: piece.pieces]:
            waiting[piece.demand].remove(entry)
            chosen[reel, piece.demand].append(entry)
    for reel, piece in pieces:
        entries, free = chosen[reel, piece.demand], waiting[piece.demand]
        missing = piece.pieces - len(entries)
        entries += free[:missing]
        del free[:missing]
        entries.sort(key=gathered.conductors[piece.demand].index)
    cuts = []
    for load in answer.loads:
        entries = [entry for piece in load.cuts for entry in chosen[load.reel, piece.demand]]
        cuts.append((gathered.reels[load.reel], tuple(sorted(entries, key=gathered.turn))))
    return Shares(
        cuts=tuple(cuts),
        uncut=tuple(entry for entries in waiting.values() for entry in entries),
        buy=tuple((gathered.buys[purchase.length], purchase.count) for purchase in buyer.buy),
        buy_least=_buy_least(gathered, buyer),
    )


def _buy_least(gathered: SiteProblem, buyer: Plan) -> int | None:
    """Return the least total of lengths as sold that could be enough; what is bought where nothing less is."""
    if not buyer.buy or buyer.buy_bound is None:
        return None
    from reels.planner.short.buying import purchases  # as in `solve`

    sold = {units: gathered.grid.down(length) for units, length in gathered.buys.items() if units > 0}
    least = sum(next(purchases(sorted(sold.values(), reverse=True), buyer.buy_bound)))
    if sum(sold[purchase.length] * purchase.count for purchase in buyer.buy) <= least:
        return sum(gathered.buys[purchase.length] * purchase.count for purchase in buyer.buy)
    return gathered.grid.ticks(least)


def _by_marks(reels: Iterable[ReelEntry], allowance: Fraction, hands: Hands) -> Callable[[int], int]:
    """Return how much a cut for a need takes off whichever of these reels it comes from, made at a mark. [ticks]"""
    alike = {(entry.marks.has_marks, entry.marks.unit, entry.books.factor): entry for entry in reels}

    def taken(need: int) -> int:
        return max(
            (length_taken(one.marks, one.books, need, allowance, hands) for one in alike.values()),
            default=hands.up(need),
        )

    return taken


def _demands(
    grid: Grid, needs: Sequence[ConductorEntry], planned: Mapping[int, date], taken: Callable[[int], int]
) -> tuple[tuple[Demand, ...], dict[str, list[ConductorEntry]]]:
    """Conductors of one run, set and length are one demand; the earlier its cables are planned, the lower its class."""
    days = sorted({planned[entry.conductor.run_id] for entry in needs if entry.conductor.run_id in planned})
    classes = {day: number for number, day in enumerate(days, 1)}
    grouped: dict[tuple[str, str, int], list[ConductorEntry]] = defaultdict(list)
    for entry in sorted(needs, key=lambda entry: (entry.conductor.run.name, _natural(entry.conductor.name))):
        run, name = name_of(entry.conductor)
        grouped[run, set_name(name), grid.up(taken(entry.need))].append(entry)
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
    before: Mapping[int, str], reels: dict[str, ReelEntry], conductors: dict[str, list[ConductorEntry]]
) -> tuple[Assigned, ...]:
    demand_of = {entry.conductor.pk: key for key, entries in conductors.items() for entry in entries}
    pieces: dict[tuple[str, str], int] = defaultdict(int)
    for conductor, reel in before.items():
        if reel in reels and conductor in demand_of:
            pieces[reel, demand_of[conductor]] += 1
    return tuple(Assigned(reel, demand, count) for (reel, demand), count in sorted(pieces.items()))


def _usable_when_new(site: Site, length: int) -> int:
    """Return what may be planned of a reel of this length that is still to be bought, marks taken as untried."""
    allowance = Fraction(site.mark_allowance)
    return max(0, int((length - to_ticks(site.safety_tail)) * (1 - allowance)))


def _as_built(measured: Mapping[int, Sequence[Measurement]], runs: Sequence[int]) -> dict[str, str]:
    told = {}
    for measurements in (measured[run] for run in runs if run in measured):
        whole, sections = latest_measurements(measurements)
        told[measurements[0].run.name] = f"{whole} {sorted(sections.items())}"
    return told


def _settings(site: Site, cable: Cable, grid: Grid, options: Options) -> dict[str, str]:
    return {
        "planning grid": grid.unit.label,
        "keep length": str(to_ticks(site.keep_length)),
        "safety tail": str(to_ticks(site.safety_tail)),
        "mark allowance": str(to_ticks(site.mark_allowance)),
        "way of reading marks": hands_of(site).marks_as,
        "buy lengths": ", ".join(str(length) for length in sorted(cable.buy_lengths)),
        "rates": f"{options.rates.whole} {options.rates.remnant} {options.rates.setup}",
        "strict order": str(options.strict),
        "reels on the way": str(options.with_coming),
    }


def name_of(conductor: Conductor) -> Name:
    """Return a conductor as its run's name and its own."""
    return conductor.run.name, conductor.name


def _natural(name: str) -> tuple[str, int]:
    letters = set_name(name)
    return letters, int(name[len(letters) :] or 0)


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
