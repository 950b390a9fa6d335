"""
A bare cutting problem in a JSON file, of the kinds `reels`, `single-stock` and `multi-stock`. Pure.

Whole numbers in the file's own units. `reels`: `reels` (id, length, whole), `runs` (id, length, count, priority),
`keep`, `unitsPerFoot`, `priorityWeights`. Stock kinds: `stock` (length, available, cost), `items` (length, demand).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from reels.planning.problem import Demand, Limits, Problem, ProblemError, Reel, Unit
from reels.planning.stock import StockLength, StockPlan, StockProblem

STOCK_KINDS = ("single-stock", "multi-stock")


@dataclass(frozen=True, slots=True)
class Bare:
    """A problem with its name and kind."""

    name: str
    kind: str
    problem: Problem | StockProblem


def read_bare(data: Any, *, seconds: float, strict: bool = False) -> Bare:
    """
    Return the problem of a file that was read as JSON.

    seconds : wall clock that the planner may use. strict : the strict order instead of rates, for reels.
    Raises ProblemError saying what is missing or of the wrong sort.
    """
    if not isinstance(data, dict):
        raise ProblemError(["a problem is a JSON object"])
    kind = data.get("kind")
    if kind == "reels":
        return Bare(str(data.get("name", "")), kind, _reels(data, Limits(seconds=seconds), strict=strict))
    if kind in STOCK_KINDS:
        return Bare(str(data.get("name", "")), kind, _stock(data, Limits(seconds=seconds)))
    raise ProblemError([f"kind is {kind!r}; expected reels, {' or '.join(STOCK_KINDS)}"])


def stock_as_json(plan: StockPlan, name: str, kind: str) -> dict[str, Any]:
    """Return a plan of stock lengths by the names of `plan_cuts --json`; no plan at all is null."""
    patterns = None
    if plan.patterns is not None:
        patterns = [
            {
                "stock": pattern.stock,
                "cuts": {str(length): pieces for length, pieces in pattern.cuts},
                "times": pattern.times,
            }
            for pattern in plan.patterns
        ]
    return {
        "name": name,
        "kind": kind,
        "seconds": round(plan.seconds, 3),
        "cost": plan.cost,
        "bound": plan.bound,
        "proven": plan.proven,
        "plan": patterns,
    }


def _reels(data: Mapping[str, Any], limits: Limits, *, strict: bool) -> Problem:
    weights = data.get("priorityWeights", {})
    if not isinstance(weights, dict):
        raise ProblemError(["priorityWeights must be an object of weights by priority"])
    demands = []
    for run in _list(data, "runs"):
        priority = _whole(run, "priority", 1)
        weight = weights.get(str(priority), 1)
        if not isinstance(weight, int) or isinstance(weight, bool):
            raise ProblemError([f"priorityWeights: the weight of {priority} must be a whole number"])
        demands.append(
            Demand(
                id=_text(run, "id"),
                length=_whole(run, "length"),
                count=_whole(run, "count"),
                date_class=priority,
                weight=weight,
            )
        )
    reels = tuple(
        Reel(_text(reel, "id"), _whole(reel, "length"), whole=bool(reel.get("whole", False)))
        for reel in _list(data, "reels")
    )
    return Problem(
        unit=Unit(str(data.get("unit", "unit")), _per_foot(data)),
        reels=reels,
        demands=tuple(demands),
        keep=_whole(data, "keep"),
        strict=strict,
        unmet_by_sets=False,
        buy_lengths=tuple(data.get("buyLengths", ())),
        limits=limits,
    )


def _stock(data: Mapping[str, Any], limits: Limits) -> StockProblem:
    stock = tuple(
        StockLength(
            _whole(kind, "length"),
            None if kind.get("available") is None else _whole(kind, "available"),
            _whole(kind, "cost", 1),
        )
        for kind in _list(data, "stock")
    )
    items = tuple((_whole(item, "length"), _whole(item, "demand")) for item in _list(data, "items"))
    return StockProblem(stock, items, limits)


def _per_foot(data: Mapping[str, Any]) -> Fraction:
    """Return the units in a foot exactly: a float such as 304.8 means what it shows."""
    value = data.get("unitsPerFoot")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ProblemError(["unitsPerFoot must be a number"])
    return Fraction(repr(value))


def _list(data: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    rows = data.get(name)
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise ProblemError([f"{name} must be a list of objects"])
    return rows


def _text(row: Mapping[str, Any], name: str) -> str:
    value = row.get(name)
    if not isinstance(value, str | int) or isinstance(value, bool):
        raise ProblemError([f"{name} must be text, got {value!r}"])
    return str(value)


def _whole(row: Mapping[str, Any], name: str, default: int | None = None) -> int:
    value = row.get(name, default)
    if not isinstance(value, int) or isinstance(value, bool):
        raise ProblemError([f"{name} must be a whole number, got {value!r}"])
    return value
