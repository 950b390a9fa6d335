"""
Stock lengths: cut every piece from stock of one or a few lengths at least cost, and prove it.

The bare kinds `single-stock` and `multi-stock`: what is asked, what is answered, and the check of the answer.
"""

from collections import Counter
from dataclasses import dataclass, field

from reels.planner.problem import Limits, ProblemError


@dataclass(frozen=True, slots=True)
class StockLength:
    """One stock length: length [units], available (None: as many as wanted), whole-number cost of one."""

    length: int
    available: int | None
    cost: int


@dataclass(frozen=True, slots=True)
class StockProblem:
    """Pieces as (length [units], demand), to be cut from stock at least total cost."""

    stock: tuple[StockLength, ...]
    items: tuple[tuple[int, int], ...]
    limits: Limits = field(default=Limits())


@dataclass(frozen=True, slots=True)
class StockPattern:
    """`times` stock lengths, each cut into (length, pieces)."""

    stock: int
    cuts: tuple[tuple[int, int], ...]
    times: int


@dataclass(frozen=True, slots=True)
class StockPlan:
    """No plan was found where patterns and cost are None; bound is proven; stopped as in `Plan`, or "impossible"."""

    patterns: tuple[StockPattern, ...] | None
    cost: int | None
    bound: int
    stopped: str
    seconds: float

    @property
    def proven(self) -> bool:
        """Whether no plan can cost less."""
        return self.cost is not None and self.cost == self.bound


def check_stock_plan(problem: StockProblem, plan: StockPlan) -> None:
    """Raise ValueError unless the plan cuts exactly the demand from available stock at the cost it says."""
    if plan.patterns is None:
        return
    kinds = {kind.length: kind for kind in problem.stock}
    cut: Counter[int] = Counter()
    used: Counter[int] = Counter()
    for pattern in plan.patterns:
        if sum(length * pieces for length, pieces in pattern.cuts) > pattern.stock:
            raise ValueError(f"a stock length of {pattern.stock} is overdrawn")
        used[pattern.stock] += pattern.times
        for length, pieces in pattern.cuts:
            cut[length] += pieces * pattern.times
    wanted: Counter[int] = Counter()
    for length, demand in problem.items:
        wanted[length] += demand
    if +cut != +wanted:
        raise ValueError("the pieces cut are not the pieces wanted")
    for length, times in used.items():
        available = kinds[length].available
        if available is not None and times > available:
            raise ValueError(f"{times} stock lengths of {length} used, {available} available")
    cost = sum(kinds[length].cost * times for length, times in used.items())
    if cost != plan.cost or plan.bound > cost:
        raise ValueError(f"the plan costs {cost}, it says {plan.cost} with bound {plan.bound}")


def validate_stock(problem: StockProblem) -> None:
    """Raise ProblemError with every contradiction in the problem."""
    wrong = [f"stock length must be above 0, got {kind.length}" for kind in problem.stock if kind.length <= 0]
    wrong += [f"cost of stock length {kind.length} must be above 0" for kind in problem.stock if kind.cost <= 0]
    wrong += [
        f"stock length {kind.length}: available must not be negative"
        for kind in problem.stock
        if (kind.available or 0) < 0
    ]
    wrong += [f"item of {length}: length must be above 0" for length, _ in problem.items if length <= 0]
    wrong += [f"item of {length}: demand must not be negative" for length, demand in problem.items if demand < 0]
    if len({kind.length for kind in problem.stock}) < len(problem.stock):
        wrong.append("a stock length occurs twice")
    longest = max((kind.length for kind in problem.stock if kind.available != 0), default=0)
    wrong += [
        f"item of {length} is longer than all stock" for length, demand in problem.items if demand and length > longest
    ]
    if wrong:
        raise ProblemError(wrong)
