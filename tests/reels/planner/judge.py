"""Holds a plan against the best that listing every plan finds."""

from reels.planner.assemble import assemble
from reels.planner.check import check_plan, cost_in_feet
from reels.planner.core import Ints
from reels.planner.plan import Bounds, Levels, Plan
from reels.planner.problem import Problem
from tests.reels.planner.reference import best_by_listing, missing_levels


def _add(a, b):
    return tuple(x + y for x, y in zip(a, b, strict=True))


def faults(problem: Problem, plan: Plan) -> list[str]:
    """What is wrong with a plan or its bounds; a plan that is merely not the best is no fault unless called proven."""
    check_plan(problem, plan)
    wrong = []
    orders = {"scrap": (0, 1, 2, 3), "whole_reels": (1, 0, 2, 3), "remnants": (2, 0, 1, 3), "setups": (3, 0, 1, 2)}
    ends = {
        name: best_by_listing(problem, lambda levels, order=order: tuple(levels[i] for i in order), _add)
        for name, order in orders.items()
    }
    losses = {missing: missing_levels(problem, missing) for missing in ends["scrap"]}
    for place, name in enumerate(("sets_incomplete", "unmet_weighted", "unmet")):
        bound = getattr(plan.bounds, name)
        if bound is not None and bound > min(loss[place] for loss in losses.values()):
            wrong.append(f"bound on {name} {bound} is above {min(loss[place] for loss in losses.values())}")
    nothing = tuple(0 for _ in problem.demands)
    if plan.levels.unmet:
        return wrong
    for name in orders:
        bound = getattr(plan.bounds, name)
        if problem.strict and name != "scrap":
            continue
        if bound is not None and bound > ends[name][nothing][0]:
            wrong.append(f"bound on {name} {bound} is above {ends[name][nothing][0]}")
    best = ends["scrap"][nothing]
    if problem.strict:
        levels = plan.levels
        reached = (levels.scrap, levels.whole_reels, levels.remnants, levels.setups)
        # Given the levels before it, the best plan is the smallest tuple.
        for place, name in enumerate(orders):
            bound = getattr(plan.bounds, name)
            if reached[:place] == best[:place] and bound is not None and bound > best[place]:
                wrong.append(f"bound on {name} {bound} is above {best[place]}")
        if plan.stopped == "proven" and reached != best:
            wrong.append(f"called proven with {plan.levels}, the best is {best}")
        return wrong
    least = least_cost(problem)
    if plan.bounds.cost is not None and plan.bounds.cost > least:
        wrong.append(f"bound on cost {plan.bounds.cost} is above {least}")
    if plan.stopped == "proven" and plan.cost != least:
        wrong.append(f"called proven at {plan.cost}, the best is {least}")
    return wrong


def faults_beside(problem: Problem, plan: Plan, pieces: Ints) -> list[str]:
    """What is wrong with a plan or its bounds, given the pieces [reel, demand] of a plan that cuts everything."""
    check_plan(problem, plan)
    known = assemble(problem, pieces, Bounds(), "finished", 0.0)
    check_plan(problem, known)
    limits = {name: getattr(known.levels, name) for name in ("unmet", "unmet_weighted", "scrap")}
    if not problem.strict or not known.levels.scrap:
        limits["whole_reels"] = known.levels.whole_reels
    if not problem.strict:
        limits |= {"setups": known.levels.setups, "cost": known.cost}
    wrong = [
        f"bound on {name} {bound} is above {limit}"
        for name, limit in limits.items()
        if (bound := getattr(plan.bounds, name)) is not None and bound > limit
    ]
    if plan.stopped == "proven" and _order(problem, plan) > _order(problem, known):
        wrong.append(f"called proven with {plan.levels}, the plan it was made from has {known.levels}")
    return wrong


def _order(problem: Problem, plan: Plan) -> tuple[object, ...]:
    levels = plan.levels
    order = (levels.scrap, levels.whole_reels, levels.remnants, levels.setups)
    return (levels.unmet, *order) if problem.strict else (levels.unmet, plan.cost)


def least_cost(problem: Problem):
    """Least cost in feet when everything is cut, by listing every plan."""

    def cost(levels):
        return cost_in_feet(problem, Levels((), 0, 0, *levels))

    nothing = tuple(0 for _ in problem.demands)
    return best_by_listing(problem, cost, lambda a, b: a + b)[nothing]
