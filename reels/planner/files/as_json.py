"""A plan as machines read it, by the names of `plan_cuts --json`: levels in feet, other lengths in units. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
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


def reels_as_json(
    *,
    name: str,
    seconds: float,
    stopped: str,
    levels: Mapping[str, Any],
    bounds: Mapping[str, Any],
    cuts: Iterable[tuple[str, str, int]],
    unmet: Iterable[tuple[str, int]],
    buy: Iterable[tuple[float, int]],
) -> dict[str, Any]:
    """
    Return a plan of reels, worked out or stored: the one place that knows its keys.

    cuts : reel, run and pieces, in the order to cut. unmet : run and pieces. buy : length and count.
    """
    loads: dict[str, Counter[str]] = {}
    for reel, run, pieces in cuts:
        loads.setdefault(reel, Counter())[run] += pieces
    missing: Counter[str] = Counter()
    for run, pieces in unmet:
        missing[run] += pieces
    return {
        "name": name,
        "kind": "reels",
        "seconds": round(seconds, 3),
        "stopped": stopped,
        "levels": dict(levels),
        "bounds": {key: bounds.get(key) for key, _, _ in LEVELS},
        "plan": [{"reel": reel, "cuts": dict(runs)} for reel, runs in loads.items()],
        "unmet": dict(missing),
        "buy": [{"length": length, "count": count} for length, count in buy],
    }


def plan_as_json(problem: Problem, plan: Plan, name: str) -> dict[str, Any]:
    """Return a plan of reels; pieces are counted by run, lengths to buy are units of the problem."""
    run_of = {demand.id: demand.run_key for demand in problem.demands}
    return reels_as_json(
        name=name,
        seconds=plan.seconds,
        stopped=plan.stopped,
        levels=levels_as_json(problem, plan.levels),
        bounds=levels_as_json(problem, plan.bounds),
        cuts=((load.reel, run_of[piece.demand], piece.pieces) for load in plan.loads for piece in load.cuts),
        unmet=((run_of[piece.demand], piece.pieces) for piece in plan.unmet),
        buy=((purchase.length, purchase.count) for purchase in plan.buy),
    )


def feet(problem: Problem, units: int | Fraction) -> float:
    """Return a length of the problem in feet, to 1/10 000."""
    return round(float(problem.unit.feet(units)), 4)
