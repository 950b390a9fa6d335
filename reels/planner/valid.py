"""Whether a problem can be planned at all: it does not contradict itself, and the machine's whole numbers hold it."""

from collections.abc import Iterable

from reels.planner.core import rate_weights
from reels.planner.problem import Problem, ProblemError

# A reel of this many units is 1 000 km at 1 mm; the lengths that can be reached on one are a bit each. [units]
MOST_LENGTH = 1_000_000_000
# All lengths needed together, so that one of them times all of them is still a whole number of the machine. [units]
MOST_NEEDED = 2_000_000_000
# Weighted lengths, and costs in the smallest step of the rates, of everything together.
MOST_WORTH = 10**18


def validate(problem: Problem) -> None:
    """Raise ProblemError with every contradiction in the problem, and with what is too large to be planned."""
    wrong = [*_wrong_reels(problem), *_wrong_demands(problem)]
    if problem.keep <= 0:
        wrong.append(f"keep length must be above 0, got {problem.keep}")
    if problem.unit.per_foot <= 0:
        wrong.append(f"units per foot must be above 0, got {problem.unit.per_foot}")
    if min(problem.rates.whole, problem.rates.remnant, problem.rates.setup) < 0:
        wrong.append("rates must not be negative")
    wrong += [f"a length to buy must be above 0, got {length}" for length in problem.buy_lengths if length <= 0]
    if wrong := wrong or list(_too_large(problem)):
        raise ProblemError(wrong)


def _too_large(problem: Problem) -> Iterable[str]:
    for name, length in _lengths(problem):
        if length > MOST_LENGTH:
            yield f"{name} must be at most {MOST_LENGTH} units, got {length}"
    needed = sum(demand.length * demand.count for demand in problem.demands)
    if needed > MOST_NEEDED:
        yield f"all lengths needed must be at most {MOST_NEEDED} units together, got {needed}"
    if sum(demand.length * demand.count * demand.weight for demand in problem.demands) > MOST_WORTH:
        yield f"all lengths needed times their weights must be at most {MOST_WORTH} together"
    (scrap, whole, remnant, setup), _ = rate_weights(problem)
    reels = len(problem.reels) + 1
    setups = reels * (len(problem.demands) + 1)
    if scrap * MOST_LENGTH * reels + (whole + remnant) * reels + setup * setups > MOST_WORTH:
        yield "the rates are too high, or too finely divided, to be counted in whole numbers"


def _lengths(problem: Problem) -> Iterable[tuple[str, int]]:
    yield "keep length", problem.keep
    yield from ((f"reel {reel.id}: length", max(reel.length, reel.tail)) for reel in problem.reels)
    yield from (("a length to buy", length) for length in problem.buy_lengths)


def _wrong_reels(problem: Problem) -> list[str]:
    wrong = []
    lengths = {demand.id: demand.length for demand in problem.demands}
    left = {demand.id: demand.count for demand in problem.demands}
    seen: set[str] = set()
    for reel in problem.reels:
        if reel.id in seen:
            wrong.append(f"reel {reel.id} occurs twice")
        seen.add(reel.id)
        if reel.length < 0 or reel.tail < 0:
            wrong.append(f"reel {reel.id}: length and tail must not be negative")
        promised = 0
        for demand_id, pieces in reel.frozen:
            if demand_id not in lengths:
                wrong.append(f"reel {reel.id}: frozen pieces of unknown demand {demand_id}")
                continue
            if pieces <= 0:
                wrong.append(f"reel {reel.id}: frozen pieces of {demand_id} must be above 0, got {pieces}")
            promised += pieces * lengths[demand_id]
            left[demand_id] -= pieces
        if promised > reel.usable:
            wrong.append(f"reel {reel.id}: frozen pieces take {promised} of {reel.usable} usable units")
    wrong += [
        f"demand {demand.id}: more pieces frozen than its count"
        for demand in problem.demands
        if left[demand.id] < min(0, demand.count)
    ]
    for assigned in problem.kept:
        if assigned.pieces <= 0:
            wrong.append(f"kept pieces of {assigned.demand} on {assigned.reel} must be above 0")
    return wrong


def _wrong_demands(problem: Problem) -> list[str]:
    wrong = []
    seen: set[str] = set()
    for demand in problem.demands:
        if demand.id in seen:
            wrong.append(f"demand {demand.id} occurs twice")
        seen.add(demand.id)
        if demand.length <= 0:
            wrong.append(f"demand {demand.id}: length must be above 0, got {demand.length}")
        if demand.count < 0:
            wrong.append(f"demand {demand.id}: count must not be negative, got {demand.count}")
        if demand.weight <= 0:
            wrong.append(f"demand {demand.id}: weight must be above 0, got {demand.weight}")
    return wrong
