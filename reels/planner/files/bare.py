"""
A bare cutting problem in a JSON file, of the kinds `reels`, `single-stock` and `multi-stock`. Pure.

Whole numbers in the file's own units, none above 10^18, so that no sum of them is past counting; what a problem may
measure altogether is in `valid`. `reels`: `reels` (id, length, whole), `runs` (id, length, count, priority),
`keep`, `unitsPerFoot`, `priorityWeights`. Stock kinds: `stock` (length, available, cost), `items` (length, demand).
"""

from __future__ import annotations

import reprlib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from reels.planner.problem import Demand, Limits, Problem, ProblemError, StockReel, Unit
from reels.planner.stock_lengths.stock_problem import StockLength, StockPlan, StockProblem

STOCK_KINDS = ("single-stock", "multi-stock")
MOST_NUMBER = 10**18
MOST_WEIGHT = 1_000_000
# From feet in thousands to a thousandth of a millimetre and beyond.
LEAST_PER_FOOT, MOST_PER_FOOT = 0.001, 1_000_000


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
    Raises ProblemError saying what is missing, of the wrong sort or too large.
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
        if not isinstance(weight, int) or isinstance(weight, bool) or weight > MOST_WEIGHT:
            raise ProblemError(
                [f"priorityWeights: the weight of {priority} must be a whole number, at most {MOST_WEIGHT}"]
            )
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
        StockReel(_text(reel, "id"), _whole(reel, "length"), whole=_yes_or_no(reel, "whole"))
        for reel in _list(data, "reels")
    )
    return Problem(
        unit=Unit(str(data.get("unit", "unit")), _per_foot(data)),
        reels=reels,
        demands=tuple(demands),
        keep=_whole(data, "keep"),
        strict=strict,
        unmet_by_sets=False,
        buy_lengths=_lengths_to_buy(data),
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
    if not LEAST_PER_FOOT <= value <= MOST_PER_FOOT:  # nor is NaN between them
        raise ProblemError([f"unitsPerFoot must be from {LEAST_PER_FOOT} to {MOST_PER_FOOT}, got {value}"])
    return Fraction(repr(value))


def _lengths_to_buy(data: Mapping[str, Any]) -> tuple[int, ...]:
    lengths = data.get("buyLengths", [])
    if not isinstance(lengths, list):
        raise ProblemError([f"buyLengths must be a list of whole numbers, got {_shown(lengths)}"])
    return tuple(_whole({"each of buyLengths": length}, "each of buyLengths") for length in lengths)


def _yes_or_no(row: Mapping[str, Any], name: str) -> bool:
    value = row.get(name, False)
    if not isinstance(value, bool):
        raise ProblemError([f"{name} must be true or false, got {_shown(value)}"])
    return value


def _list(data: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    rows = data.get(name)
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise ProblemError([f"{name} must be a list of objects"])
    return rows


def _text(row: Mapping[str, Any], name: str) -> str:
    value = row.get(name)
    if not isinstance(value, str | int) or isinstance(value, bool):
        raise ProblemError([f"{name} must be text, got {_shown(value)}"])
    return str(value)


def _whole(row: Mapping[str, Any], name: str, default: int | None = None) -> int:
    value = row.get(name, default)
    if not isinstance(value, int) or isinstance(value, bool):
        raise ProblemError([f"{name} must be a whole number, got {_shown(value)}"])
    if abs(value) > MOST_NUMBER:
        raise ProblemError([f"{name} must be at most {MOST_NUMBER}, got {_shown(value)}"])
    return value


def _shown(value: Any) -> str:
    """Return a value as a message names it, cut short: a file may hold anything."""
    return reprlib.repr(value)
