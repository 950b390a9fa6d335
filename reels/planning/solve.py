"""
The planner: which length comes off which reel, how good that is, and what to buy.

Greedy plans and pair re-splits give a good plan at once; column generation with a dive, the whole problem for small
ones and small neighbourhoods improve it. Each stage is a module of its own that names its source.
"""

from collections.abc import Callable
from dataclasses import replace

from reels.planning.assemble import assemble, pieces_of
from reels.planning.bounds import Proof
from reels.planning.buying import buy
from reels.planning.check import check_plan
from reels.planning.core import Core, Ints, build_core
from reels.planning.keeping import held, releases
from reels.planning.local import Local
from reels.planning.plan import Bounds, Plan, Progress
from reels.planning.problem import Problem, validate
from reels.planning.search import best_pieces
from reels.planning.sets import complete_sets, guarded
from reels.planning.stages import finish, relax, scrap_bound, start, whole_problem
from reels.planning.state import State
from reels.planning.watch import Watch

# Share of the time that buying may use when cable is short.
BUYING = 0.25
# What buying gets of it even when a person wants no more plans or the search took longer than its share. [s]
MOMENT = 0.25


def plan_cuts(
    problem: Problem, progress: Progress | None = None, on_better: Callable[[Plan], None] | None = None
) -> Plan:
    """
    Plan the cuts of one cable.

    progress : called as progress(stage, elapsed, levels, bounds) after each stage and gain; a true answer stops the
        planner, which then gives the best plan so far.
    on_better : called with each better plan, complete and checked.
    Returns a plan that `check_plan` has passed. Raises ProblemError for a problem that contradicts itself.
    """
    validate(problem)
    run = _Run(problem, progress, on_better)
    run.search()
    plan = run.best("finished")
    if plan.unmet and problem.buy_lengths:
        plan = buy(problem, plan, pieces_of(problem, plan.loads), run.buying_over())
    plan = replace(plan, stopped=run.stopped(plan), seconds=run.watch.elapsed())
    check_plan(problem, plan)
    return plan


class _Run:
    """One call of the planner. `part` is the problem being searched: with kept pieces frozen, if there are any."""

    def __init__(self, problem: Problem, progress: Progress | None, on_better: Callable[[Plan], None] | None) -> None:
        self.problem, self.part = problem, problem
        self.progress, self.on_better = progress, on_better
        self.core = build_core(problem)
        self.proof = Proof(problem, self.core)
        self.found: Plan | None = None
        limits = problem.limits
        if problem.buy_lengths and self.proof.unmet:
            limits = replace(limits, seconds=limits.seconds * (1 - BUYING))
        self.watch = Watch(limits, self.report)

    def search(self) -> None:
        """All stages; an accepted plan is held as far as it can be."""
        if self.problem.kept:
            self.improve(self.hold(), None)
        else:
            self.improve(self.begin(self.core, self.proof), self.proof)

    def begin(self, core: Core, proof: Proof | None) -> Core:
        """Return a good plan soon, then a bound and what it leads to; the core to go on with."""
        watch = self.watch
        if self.part.unmet_by_sets:
            core = core.with_penalty(core.lengths)
        start(core, watch)
        relax(core, watch, proof)
        if self.part.unmet_by_sets and (core.counts > best_pieces(watch).sum(axis=0)).any():
            core = self.rank_sets(core)
        self.keep_best()
        return core

    def improve(self, core: Core, proof: Proof | None) -> None:
        """Small problems whole, then neighbourhoods until the limits are reached."""
        watch = self.watch
        whole_problem(core, watch, proof)
        if proof is not None:
            if self.settled():
                return
            scrap_bound(core, watch, proof)
        finish(core, watch)
        self.keep_best()

    def hold(self) -> Core:
        """Let go of as few reels of the accepted plan as it takes to cut as much as can be cut."""
        best: tuple[tuple[object, ...], Problem, Core, Ints, Plan] | None = None
        for released in releases(self.problem):
            self.part = held(self.problem, released)
            self.found = None
            self.watch.forget()
            core = self.begin(build_core(self.part), None)
            plan = self.keep_best()
            rank = _short_rank(self.problem, plan)
            if best is None or rank < best[0]:
                best = (rank, self.part, core, best_pieces(self.watch), plan)
            if not plan.unmet or rank == self.proof.short_rank or self.watch.over():
                break
        if best is None:
            raise RuntimeError("there is always a first release")
        _, self.part, core, pieces, self.found = best
        self.watch.forget()
        self.watch.offer(core, pieces, "held")
        return core

    def rank_sets(self, core: Core) -> Core:
        """Complete as many sets as can be, and go on with a core that guards them."""
        watch, part = self.watch, self.part
        base = best_pieces(watch)
        completed, pieces = complete_sets(part, core, watch.until(0.5))
        whole = _complete(part, core, base)
        if _set_rank(part, pieces) > _set_rank(part, base):
            completed, pieces = whole, base
        core = guarded(part, core, completed)
        watch.forget()
        watch.offer(core, pieces, "sets")
        state = State(core, pieces)
        Local(state, watch.until(0.5)).run()
        watch.offer(core, state.pieces, "sets")
        return core

    def report(self, stage: str, elapsed: float) -> object:
        """Tell whoever watches; only then is a plan put together in between."""
        if self.progress is None and self.on_better is None:
            return None
        before = self.found
        plan = self.keep_best()
        if self.on_better is not None and plan is not before:
            self.on_better(plan)
        return self.progress(stage, elapsed, plan.levels, plan.bounds) if self.progress is not None else None

    def keep_best(self) -> Plan:
        """Return the better of what is being searched and what was found before."""
        pieces = best_pieces(self.watch)
        plan = assemble(self.part, pieces, Bounds(), "running", self.watch.elapsed())
        if self.found is None or _plan_rank(self.problem, plan) < _plan_rank(self.problem, self.found):
            self.found = plan
        self.found = self.proof.attach(self.found)
        return self.found

    def best(self, stopped: str) -> Plan:
        """Return the best plan with all that is proven about it."""
        return replace(self.keep_best(), stopped=stopped)

    def settled(self) -> bool:
        """Whether nothing better can exist."""
        return self.proof.settled(self.keep_best())

    def stopped(self, plan: Plan) -> str:
        """Why the planner stopped."""
        if self.watch.asked:
            return "asked"
        if not self.problem.kept and self.proof.settled(plan):
            return "proven"
        return "time" if self.watch.timed_out else "finished"

    def buying_over(self) -> Callable[[], bool]:
        """Return the stop for buying, which begins now: a wrong purchase costs more than a moment's wait."""
        moment = min(MOMENT, BUYING * self.problem.limits.seconds)
        end = self.watch.elapsed() + moment
        if not self.watch.asked:
            end = max(end, self.problem.limits.seconds)
        return lambda: self.watch.elapsed() >= end


def _set_rank(problem: Problem, pieces: Ints) -> tuple[tuple[int, ...], int]:
    plan = assemble(problem, pieces, Bounds(), "", 0.0)
    return plan.levels.sets_incomplete, plan.levels.unmet


def _complete(problem: Problem, core: Core, pieces: Ints) -> list[str]:
    """Return sets of which no piece is missing."""
    missing = core.counts - pieces.sum(axis=0)
    short = {demand.set_key for demand, count in zip(problem.demands, missing.tolist(), strict=True) if count}
    return [key for key in problem.set_classes if key not in short]


def _short_rank(problem: Problem, plan: Plan) -> tuple[object, ...]:
    levels = plan.levels
    return (levels.sets_incomplete, levels.unmet) if problem.unmet_by_sets else (levels.unmet_weighted,)


def _plan_rank(problem: Problem, plan: Plan) -> tuple[object, ...]:
    levels = plan.levels
    short = _short_rank(problem, plan)
    order = (levels.scrap, levels.whole_reels, levels.remnants, levels.setups)
    return (*short, *order) if problem.strict else (*short, plan.cost, *order)
