"""A plan as machines read it, by the names of `plan_cuts --json`: levels in feet, other lengths in units. Pure."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

from reels.planner.plan import Bounds, Levels, Plan
from reels.planner.problem import Problem

# Name in the output, name of the level, whether it is a length.
LEVELS = (
    ("unmetWeighted", "unmet_weighted", True),
    ("unmetFeet", "unmet", True),
    ("scrapFeet", "scrap", True),
    ("wholeReelsOpened", "whole_reels", False),
    ("remnants", "remnants", False),
    ("setups", "setups", False),
)


def levels_as_json(problem: Problem, levels: Levels | Bounds) -> dict[str, float | int | None]:
    """Return levels or bounds by name, lengths in feet; None where no bound is proven."""
    shown: dict[str, float | int | None] = {}
    for name, field, is_length in LEVELS:
        value = getattr(levels, field)
        shown[name] = feet(problem, value) if is_length and value is not None else value
    return shown


def proven_as_json(plan: Plan) -> dict[str, bool]:
    """Return for each level, by name, whether no plan can do better at it."""
    proven = plan.proven
    return {name: proven[field] for name, field, _ in LEVELS}


def plan_as_json(problem: Problem, plan: Plan, name: str) -> dict[str, Any]:
    """Return a plan of reels; pieces are counted by run."""
    run_of = {demand.id: demand.run_key for demand in problem.demands}
    unmet: Counter[str] = Counter()
    for piece in plan.unmet:
        unmet[run_of[piece.demand]] += piece.pieces
    loads = []
    for load in plan.loads:
        cuts: dict[str, int] = {}
        for piece in load.cuts:
            cuts[run_of[piece.demand]] = cuts.get(run_of[piece.demand], 0) + piece.pieces
        loads.append({"reel": load.reel, "cuts": cuts})
    return {
        "name": name,
        "kind": "reels",
        "seconds": round(plan.seconds, 3),
        "stopped": plan.stopped,
        "levels": levels_as_json(problem, plan.levels),
        "bounds": levels_as_json(problem, plan.bounds),
        "plan": loads,
        "unmet": dict(unmet),
        "buy": [{"length": purchase.length, "count": purchase.count} for purchase in plan.buy],
    }


def feet(problem: Problem, units: int | Fraction) -> float:
    """Return a length of the problem in feet, to 1/10 000."""
    return round(float(problem.unit.feet(units)), 4)
