"""
The planner: which length comes off which reel, how good that is, and what to buy.

Greedy plans and pair re-splits give a good plan at once; column generation with a dive, the whole problem for small
ones and small neighbourhoods improve it. Each stage is a module of its own that names its source.
"""

from collections.abc import Callable
from dataclasses import replace

from reels.planner.assemble import assemble, pieces_of
from reels.planner.bounds import ProvenBounds
from reels.planner.check import check_plan
from reels.planner.core import Core, Ints, build_core
from reels.planner.moves.local import Local
from reels.planner.plan import Bounds, Plan, Progress
from reels.planner.problem import Problem
from reels.planner.ranking import Ranking
from reels.planner.short.buying import buy
from reels.planner.short.held_plan import frozen_pieces, held, held_beside, hold_again, kept_pieces, releases, without
from reels.planner.short.sets import complete_sets, guarded
from reels.planner.short.shortfall import fewest_uncut, is_small
from reels.planner.stages import finish, relax, scrap_bound, start, whole_problem
from reels.planner.state import Draft
from reels.planner.valid import validate
from reels.planner.watch import Watch

# Share of the time that buying may use when cable is short.
BUYING = 0.25
# What buying gets of it even when a person wants no more plans or the search took longer than its share. [s]
MOMENT = 0.25


def plan_cuts(
    problem: Problem, progress: Progress | None = None, on_better: Callable[[Plan], None] | None = None
) -> Plan:
    """
    Plan the cuts of one cable.

    progress : called as progress(stage, elapsed, levels, bounds) after each stage and gain, and now and then in
        between; a true answer stops the planner, which then gives the best plan so far.
    on_better : called with each better plan, complete.
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
        self.problem = problem
        self.progress, self.on_better = progress, on_better
        self.core = build_core(problem)
        self.proof = ProvenBounds(problem, self.core)
        limits = problem.limits
        if problem.buy_lengths and self.proof.unmet:
            limits = replace(limits, seconds=limits.seconds * (1 - BUYING))
        self.watch = Watch(limits, self.report, self.see)
        self.turn_to(problem)

    def turn_to(self, part: Problem) -> Core:
        """Search this problem from now on; its core."""
        self.part = part
        core = self.core if part is self.problem else build_core(part)
        self.ranking = Ranking(part, core)
        self.seen: Ints | None = None
        self.seen_rank: tuple[object, ...] = ()
        self.found: Plan | None = None
        self.watch.forget()
        return core

    def search(self) -> None:
        """All stages; an accepted plan is held as far as it can be."""
        if self.problem.kept:
            self.improve(self.hold(), None)
        else:
            self.improve(self.begin(self.core, self.proof), self.proof)

    def begin(self, core: Core, proof: ProvenBounds | None) -> Core:
        """Return a good plan soon, then a bound and what it leads to; the core to go on with."""
        if self.part.unmet_by_sets:
            core = core.with_penalty(core.lengths)
        start(core, self.watch)
        relax(core, self.watch, proof)
        if (core.counts > self.best_seen().sum(axis=0)).any():
            core = self.leave_least(core, proof)
        return core

    def improve(self, core: Core, proof: ProvenBounds | None) -> None:
        """Small problems whole, then neighbourhoods until the limits are reached."""
        watch = self.watch
        whole_problem(core, watch, proof)
        if proof is not None:
            if self.settled():
                return
            scrap_bound(core, watch, proof)
        finish(core, watch)

    def leave_least(self, core: Core, proof: ProvenBounds | None) -> Core:
        """Leave as little uncut as can be, and go on with a core that guards it."""
        watch, part = self.watch, self.part
        if part.unmet_by_sets:
            self.see(complete_sets(part, core, watch.until(0.5)))
        if is_small(part, core):
            bounds = proof or ProvenBounds(part, core)
            found = fewest_uncut(part, self.ranking.core, self.best_seen(), watch, bounds.short_levels)
            self.see(found.pieces)
            if proof is not None:
                proof.take_short(found)
        return self.guard(core)

    def guard(self, core: Core) -> Core:
        """Return the core in which the sets that are complete stay so, its best plan the best seen."""
        watch = self.watch
        best = self.best_seen()
        if self.part.unmet_by_sets:
            core = guarded(self.part, core, self.ranking.complete(best))
        watch.forget()
        watch.offer(core, best, "sets")
        state = Draft(core, best)
        Local(state, watch.until(0.5)).run()
        watch.offer(core, state.pieces, "sets")
        return core

    def hold(self) -> Core:
        """Let go of as little of the accepted plan as it takes to cut as much as can be cut."""
        problem, watch = self.problem, self.watch
        kept, fixed = kept_pieces(problem), frozen_pieces(problem)
        best: tuple[tuple[object, ...], frozenset[int], Ints] | None = None
        for released in releases(problem, kept):
            core = self.begin(self.turn_to(held(problem, without(kept, released))), None)
            pieces = self.best_seen()
            rank = self.ranking.short(pieces)
            if best is None or rank < best[0]:
                best = (rank, released, pieces + frozen_pieces(self.part) - fixed)
            if not pieces_missing(core, pieces) or rank == self.proof.short_rank or watch.over():
                if not released:
                    return core
                break
            if not released and is_small(problem, self.core):
                found = fewest_uncut(problem, self.core, best[2], watch, self.proof.short_levels, kept)
                if found.least is not None:
                    return self.take_up(*held_beside(problem, kept, found.pieces))
        if best is None:
            raise RuntimeError("there is always a first release")
        part, pieces = hold_again(problem, kept, best[1], best[2], watch.until(0.5))
        return self.take_up(part, pieces)

    def take_up(self, part: Problem, pieces: Ints) -> Core:
        """Go on from these pieces [reels, demands] of a problem with kept pieces frozen."""
        core = self.turn_to(part)
        self.see(pieces)
        return self.guard(core.with_penalty(core.lengths) if part.unmet_by_sets else core)

    def see(self, pieces: Ints) -> None:
        """Keep the best pieces ever seen, by the problem's own order, whatever a stage is after and who watches."""
        rank = self.ranking.of(pieces)
        if self.seen is None or rank < self.seen_rank:
            self.seen, self.seen_rank, self.found = pieces.copy(), rank, None

    def best_seen(self) -> Ints:
        """Return the best pieces, which are there once `first_plans` has run."""
        if self.seen is None:
            raise RuntimeError("no first plan yet")
        return self.seen

    def report(self, stage: str, elapsed: float) -> object:
        """Tell whoever watches; only then is a plan put together in between."""
        if self.seen is None or (self.progress is None and self.on_better is None):
            return None
        better = self.found is None
        plan = self.best("running")
        if self.on_better is not None and better:
            self.on_better(plan)
        return self.progress(stage, elapsed, plan.levels, plan.bounds) if self.progress is not None else None

    def best(self, stopped: str) -> Plan:
        """Return the best plan with all that is proven about it."""
        if self.found is None:
            self.found = assemble(self.part, self.best_seen(), Bounds(), stopped, self.watch.elapsed())
        return self.proof.attach(replace(self.found, stopped=stopped))

    def settled(self) -> bool:
        """Whether nothing better can exist."""
        return self.proof.settled(self.best("running"))

    def stopped(self, plan: Plan) -> str:
        """Why the planner stopped."""
        if self.watch.asked:
            return "asked"
        if not self.problem.kept and self.proof.settled(plan):
            return "proven"
        return "time" if self.watch.clocked else "finished"

    def buying_over(self) -> Callable[[], bool]:
        """Return the stop for buying, which begins now: a wrong purchase costs more than a moment's wait."""
        watch = self.watch
        soon = watch.elapsed() + min(MOMENT, BUYING * self.problem.limits.seconds)
        late = max(soon, self.problem.limits.seconds)

        def over() -> bool:
            watch.hear()
            if watch.elapsed() < (soon if watch.asked else late):
                return False
            watch.clocked = True
            return True

        return over


def pieces_missing(core: Core, pieces: Ints) -> bool:
    """Whether something stays uncut."""
    return bool((core.counts > pieces.sum(axis=0)).any())
