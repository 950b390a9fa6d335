"""How much longer each run could turn out by the plan that stands, as its page shows it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reels.ledger.queries import ledger
from reels.planner.headroom import bisection as headroom
from reels.planner.headroom.quick import PlannedReels, cable_stretch, run_stretch
from reels.planner.plan import Bounds, Levels, Pieces, Plan, ReelLoad
from reels.planner.problem import Limits, Problem
from reels.plans.models import CutPlan
from reels.plans.pages.shared import STANDING, by_standing, plans_of
from reels.plans.queries import ReelCutList, cut_list, options_of
from reels.plans.site_problem import SiteProblem, gather
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Run
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks

SECONDS = 5.0  # to look harder for room for one run

WHY = {
    headroom.TOTAL: "all reels together hold no more",
    headroom.LONGEST: "one piece takes all of the longest reel",
    headroom.SHORT: "the reels do not cover all runs as it is",
    headroom.FROZEN: "its pieces are settled on their reels",
}


@dataclass(frozen=True, slots=True)
class RunRoom:
    """
    How much longer a run could turn out.

    each : for every cut of it. longer : for its centre line, which is less where slack is added. at_most : no
    arrangement gives the centre line more. [ticks] why : what stops it. harder : other runs' cuts were moved for it.
    """

    run: Run
    pieces: int
    each: int
    longer: int
    at_most: int
    why: str
    harder: bool


@dataclass(frozen=True, slots=True)
class RoomPage:
    """
    Headroom by run, least first. each, at_most : for all cuts of the cable at once. [ticks] why : what stops that.

    short : cuts that find no reel. over : reels that no longer hold their share; nothing else is worked out then.
    """

    plan: CutPlan
    runs: tuple[RunRoom, ...]
    each: int
    at_most: int
    why: str
    short: int
    over: tuple[str, ...]


def room_page(site: Site, cable: Cable, *, harder: str = "") -> RoomPage | None:
    """
    Return how much longer each run could turn out before the reels on hand stop covering all runs.

    harder : a run for which cuts of other runs are moved as well, as far as the time goes. None without a plan that
    stands. What is said is proven by an arrangement that was found.
    """
    plan = next((plan for plan in by_standing(plans_of(site, cable)) if plan.state in STANDING), None)
    if plan is None:
        return None
    plan.site, plan.cable = site, cable
    books = ledger(site)
    lists = cut_list(plan, books=books)
    gathered = gather(site, cable, options_of(plan), books=books)
    answer = _as_planned(gathered, lists)
    problem = _by_run(gathered.problem)
    yard = _yard(problem, answer)
    over = tuple(tag for tag, cuts in yard.cuts.items() if sum(length for _, length in cuts) > yard.usable.get(tag, -1))
    short = sum(missing.pieces for missing in answer.unmet)
    if over or short:
        return RoomPage(plan, (), 0, 0, WHY[headroom.SHORT], short, over)
    runs: dict[str, Run] = {}
    pieces: Counter[str] = Counter()
    for entries in gathered.conductors.values():
        runs[entries[0].conductor.run.name] = entries[0].conductor.run
        pieces[entries[0].conductor.run.name] += len(entries)
    rows = []
    for name, run in runs.items():
        found = run_stretch(yard, name)
        if name == harder:
            (more,) = headroom.headroom(problem, answer, (name,))
            found = more if more.more > found.more else found
        rows.append(_row(run, pieces[name], found, gathered, harder=name == harder))
    whole = cable_stretch(yard) if runs else None
    return RoomPage(
        plan=plan,
        runs=tuple(sorted(rows, key=lambda row: (row.longer, row.run.name))),
        each=gathered.grid.ticks(whole.more) if whole else 0,
        at_most=gathered.grid.ticks(whole.at_most) if whole else 0,
        why=_why(whole) if whole else "",
        short=0,
        over=(),
    )


def _row(run: Run, pieces: int, found: headroom.Headroom, gathered: SiteProblem, *, harder: bool) -> RunRoom:
    each, at_most = gathered.grid.ticks(found.more), gathered.grid.ticks(found.at_most)
    # A cut is (1 + slack) times as long as what is added to the run.
    share = 10_000 + to_ticks(run.slack)
    return RunRoom(run, pieces, each, each * 10_000 // share, at_most * 10_000 // share, _why(found), harder)


def _why(found: headroom.Headroom) -> str:
    return WHY.get(found.bottleneck, f"reel {found.bottleneck} runs out first")


def _by_run(problem: Problem) -> Problem:
    """Return the problem with each run as one set, so that all its cuts grow together."""
    demands = tuple(replace(demand, set_id=demand.run_id) for demand in problem.demands)
    return replace(problem, demands=demands, kept=(), limits=Limits(seconds=SECONDS))


def _yard(problem: Problem, answer: Plan) -> PlannedReels:
    demands = {demand.id: demand for demand in problem.demands}
    return PlannedReels(
        usable={reel.id: reel.usable for reel in problem.reels},
        cuts={
            load.reel: [
                (demands[cut.demand].run_id, demands[cut.demand].length) for cut in load.cuts for _ in range(cut.pieces)
            ]
            for load in answer.loads
        },
    )


def _as_planned(gathered: SiteProblem, lists: Sequence[ReelCutList]) -> Plan:
    """Return what is still to be cut of a stored plan as the planner would have answered."""
    demand_of = {entry.conductor.pk: key for key, entries in gathered.conductors.items() for entry in entries}
    loads: dict[str, Counter[str]] = defaultdict(Counter)
    for each in lists:
        for line in each.to_do:
            if line.planned.conductor_id in demand_of:
                loads[each.entry.reel.tag][demand_of[line.planned.conductor_id]] += 1
    placed: Counter[str] = Counter()
    for cuts in loads.values():
        placed.update(cuts)
    missing = {demand.id: demand.count - placed[demand.id] for demand in gathered.problem.demands}
    return Plan(
        loads=tuple(
            ReelLoad(tag, tuple(Pieces(key, count) for key, count in cuts.items()), 0, "used up")
            for tag, cuts in loads.items()
        ),
        unmet=tuple(Pieces(key, count) for key, count in missing.items() if count),
        levels=Levels((), 0, 0, 0, 0, 0, 0),
        bounds=Bounds(),
        cost=Fraction(0),
    )
