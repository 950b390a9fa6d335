"""
The planner: which length comes off which reel, how good that is, and what to buy.

Stages: greedy, re-split on few whole reels, column generation with dives, small exact problems. Each is a module
of its own that names its source.
"""

from collections.abc import Callable

import numpy as np

from reels.planning.assemble import assemble
from reels.planning.bounds import Proof
from reels.planning.check import check_plan
from reels.planning.core import Core, Ints, build_core
from reels.planning.plan import Bounds, Plan, Progress
from reels.planning.problem import Problem, validate
from reels.planning.search import first_plans, restricted_plans
from reels.planning.watch import Watch


def plan_cuts(
    problem: Problem, progress: Progress | None = None, on_better: Callable[[Plan], None] | None = None
) -> Plan:
    """
    Plan the cuts of one cable.

    progress : called as progress(stage, elapsed, levels, bounds) after each gain; a true answer stops the planner.
    on_better : called with each better plan, complete and checked.
    Returns a plan that `check_plan` has passed. Raises ProblemError for a problem that contradicts itself.
    """
    validate(problem)
    core = build_core(problem)
    proof = Proof(problem, core)

    def report(stage: str, elapsed: float) -> object:
        if progress is None and on_better is None:
            return None
        plan = _finish(problem, watch, proof, "running")
        if on_better is not None:
            on_better(plan)
        return progress(stage, elapsed, plan.levels, plan.bounds) if progress is not None else None

    watch = Watch(problem.limits, report)
    first_plans(core, watch)
    restricted_plans(core, watch)
    stopped = "asked" if watch.asked else "time" if watch.timed_out else "finished"
    return _finish(problem, watch, proof, stopped)


def _finish(problem: Problem, watch: Watch, proof: Proof, stopped: str) -> Plan:
    assert watch.best is not None
    plan = assemble(problem, watch.best, Bounds(), stopped, watch.elapsed())
    plan = proof.attach(plan)
    check_plan(problem, plan)
    return plan
