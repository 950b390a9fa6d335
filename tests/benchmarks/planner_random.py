"""
Ten thousand small random problems and a thousand large ones, each at a random time limit: no invalid plan, no wrong
bound, no false proof.

Run: python -m tests.benchmarks.planner_random [how many] [first seed]
"""

import random
import sys
from collections import Counter
from dataclasses import replace

from reels.planner.check import check_plan
from reels.planner.plan import Plan
from reels.planner.problem import Assigned, Limits, Problem
from reels.planner.solve import plan_cuts
from tests.reels.planner.generate import hidden_problem, random_problem
from tests.reels.planner.judge import faults, faults_beside

WIDE = 10  # every so many small problems comes a large one


def replan(rng: random.Random, problem: Problem, plan: Plan) -> Problem:
    """The problem with the plan accepted and one length changed."""
    kept = tuple(Assigned(load.reel, cut.demand, cut.pieces) for load in plan.loads for cut in load.cuts)
    changed = rng.randrange(len(problem.demands))
    demands = tuple(
        replace(demand, length=demand.length + rng.randint(-2, 4)) if number == changed else demand
        for number, demand in enumerate(problem.demands)
    )
    reels = tuple(replace(reel, frozen=()) for reel in problem.reels)
    return replace(problem, demands=demands, reels=reels, kept=kept)


def wide(rng: random.Random, found: Counter[str], seed: int) -> None:
    """A problem as large as a site's beside the plan it was made from."""
    problem, pieces = hidden_problem(rng, limits=Limits(seconds=rng.choice([0.0, 0.05, 0.3, 1.0])))
    plan = plan_cuts(problem)
    found[f"wide {plan.stopped}"] += 1
    for fault in faults_beside(problem, plan, pieces):
        found["fault"] += 1
        print(f"seed {seed}, wide: {fault}")


def main() -> None:
    """Count what was found and print every fault."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    found: Counter[str] = Counter()
    for seed in range(first, first + number):
        rng = random.Random(seed)
        limits = Limits(seconds=rng.choice([0.0, 0.001, 0.01, 0.05, 1.0]), rounds=40, tries=4, nodes=500)
        problem = random_problem(rng, frozen=rng.random() < 0.3, limits=limits)
        plan = plan_cuts(problem)
        found[plan.stopped] += 1
        for fault in faults(problem, plan):
            found["fault"] += 1
            print(f"seed {seed}: {fault}")
        again = replan(rng, problem, plan)
        check_plan(again, plan_cuts(again))
        if seed % WIDE == 0:
            wide(rng, found, seed)
        if (seed - first) % 1000 == 999:
            print(seed - first + 1, dict(found), flush=True)
    print(number, "problems:", dict(found))


if __name__ == "__main__":
    main()
