"""
What to buy so that everything can be cut: fewest feet, proven by loads that use the bought reels.

Purchases are tried by their total, smallest first, starting at the least total above the shortage; of one total the
longest reels first, because they hold most. Once time is up, more is bought than need be; `Plan.buy_bound` says how
little could be enough.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from reels.planning.area import holdings
from reels.planning.assemble import read_loads
from reels.planning.core import Core, Ints, build_core
from reels.planning.greedy import add_best_fit, best_fit, orders
from reels.planning.local import Local
from reels.planning.plan import Plan, Purchase
from reels.planning.problem import Problem, Reel
from reels.planning.state import State

MOST_REELS = 400


def buy(problem: Problem, plan: Plan, pieces: Ints, over: Callable[[], bool]) -> Plan:
    """
    Return the plan with a purchase that makes it complete, if there is one in time; unchanged when nothing is short.

    pieces : the plan's own matrix [reels, demands], the start for the loads after buying.
    """
    if not plan.unmet or not problem.buy_lengths:
        return plan
    longest_need = max(demand.length for demand in problem.demands if demand.count)
    lengths = sorted(set(problem.buy_lengths), reverse=True)
    core = build_core(problem)
    if longest_need > max([lengths[0], *core.capacity.tolist()]):
        return plan
    least = least_purchase(problem, lengths)
    plan = replace(plan, buy_bound=least)
    for bought in purchases(lengths, least):
        if len(bought) > MOST_REELS:
            return plan
        larger, packed = _try(problem, pieces, bought, over)
        if packed is not None:
            return _with_purchase(plan, larger, bought, packed)
        if over():
            return _buy_generously(problem, plan, pieces, lengths, least)
    return plan


def least_purchase(problem: Problem, lengths: list[int]) -> int:
    """Least total of bought reels that could be enough: what the reels on hand cannot hold, in whole reels. [units]"""
    core = build_core(problem)
    short = int(core.lengths @ core.counts) - holdings(core).total
    needed = max(1, short)
    totals = purchases(lengths, needed)
    least = sum(next(totals))
    longest = int(core.capacity.max(initial=0))
    alone = [demand.length for demand in problem.demands if demand.count and demand.length > longest]
    if alone:
        least = max(least, min(length for length in lengths if length >= max(alone)))
    return least


def purchases(lengths: list[int], least: int) -> Iterator[tuple[int, ...]]:
    """
    One purchase for each total from `least` [units] on that reels of these lengths can add up to, smallest first.

    Of each total the purchase with the fewest reels, longest first (coin change by dynamic programming).
    """
    step = math.gcd(*lengths)
    coins = sorted((length // step for length in lengths), reverse=True)
    fewest: list[int | None] = [0]
    last = [0]
    total = 0
    while True:
        if total * step >= least and fewest[total] is not None and total:
            bought = []
            left = total
            while left:
                bought.append(last[left] * step)
                left -= last[left]
            yield tuple(sorted(bought, reverse=True))
        total += 1
        best, choice = None, 0
        for coin in coins:
            before = fewest[total - coin] if coin <= total else None
            if before is not None and (best is None or before + 1 < best):
                best, choice = before + 1, coin
        fewest.append(best)
        last.append(choice)


def _try(
    problem: Problem, pieces: Ints, bought: tuple[int, ...], over: Callable[[], bool]
) -> tuple[Problem, Ints | None]:
    """Pieces on the reels on hand and the bought ones that leave nothing uncut, if found."""
    larger, core, padded = _with_bought(problem, pieces, bought)
    for start in [padded, *(best_fit(core, order) for order in orders(core))]:
        state = State(core, start)
        Local(state, over).place_missing()
        if not state.missing.any():
            return larger, state.pieces
        if over():
            break
    return larger, None


def _buy_generously(problem: Problem, plan: Plan, pieces: Ints, lengths: list[int], least: int) -> Plan:
    """Out of time: best fit on as many of the longest as it takes, each then no longer than its pieces need."""
    here = len(problem.reels)
    for number in range(max(1, -(-least // lengths[0])), MOST_REELS + 1):
        _, core, packed = _with_bought(problem, pieces, (lengths[0],) * number)
        left = core.capacity - packed @ core.lengths
        missing = core.counts - packed.sum(axis=0)
        add_best_fit(core, packed, left, core.whole & ~packed.any(axis=1), orders(core)[1], missing)
        if not missing.any():
            taken = packed[here:] @ core.lengths
            packed = np.vstack([packed[:here], packed[here:][taken > 0]])
            bought = [min(length for length in lengths if length >= each) for each in taken.tolist() if each]
            return _with_purchase(plan, _with_bought(problem, pieces, bought)[0], bought, packed)
    return plan


def _with_purchase(plan: Plan, larger: Problem, bought: Sequence[int], packed: Ints) -> Plan:
    """Return the plan with what is bought, and the loads that show that it is enough."""
    counts = Counter(bought)
    return replace(
        plan,
        buy=tuple(Purchase(length, counts[length]) for length in sorted(counts, reverse=True)),
        after_buying=read_loads(larger, larger.reels, packed),
    )


def _with_bought(problem: Problem, pieces: Ints, bought: Sequence[int]) -> tuple[Problem, Core, Ints]:
    """Return the problem with reels of these lengths added, its core, and the pieces with none on the new reels."""
    numbers: Counter[int] = Counter()
    extra = []
    for length in bought:
        numbers[length] += 1
        extra.append(Reel(id=f"buy {length} #{numbers[length]}", length=length, whole=True))
    larger = replace(problem, reels=(*problem.reels, *extra), kept=())
    none_yet = np.zeros((len(extra), pieces.shape[1]), dtype=np.int64)
    return larger, build_core(larger), np.vstack([pieces, none_yet])
