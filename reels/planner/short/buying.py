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
from itertools import count

import numpy as np

from reels.planner.area import holdings
from reels.planner.assemble import read_loads
from reels.planner.core import Core, Ints, build_core
from reels.planner.moves.greedy import add_best_fit, best_fit, orders
from reels.planner.moves.local import Local
from reels.planner.plan import Plan, Purchase
from reels.planner.problem import Problem, StockReel
from reels.planner.state import Draft

MOST_REELS = 400
# Steps up to which the totals of purchases are listed, a bit each.
MOST_TOTALS = 200_000_000


def buy(problem: Problem, plan: Plan, pieces: Ints, over: Callable[[], bool]) -> Plan:
    """
    Return the plan with a purchase that makes it complete, if there is one in time; unchanged when nothing is short.

    pieces : the plan's own matrix [reels, demands], the start for the loads after buying.
    """
    if not plan.unmet or not problem.buy_lengths:
        return plan
    lengths = sorted(set(problem.buy_lengths), reverse=True)
    if not _long_ones_fit(build_core(problem), pieces, lengths[0], over):
        return plan
    least = least_purchase(problem, lengths)
    for bought in purchases(lengths, least):
        if len(bought) > MOST_REELS:
            return plan
        core, packed = _try(problem, pieces, bought, over)
        if packed is not None:
            taken = (packed[len(problem.reels) :] @ core.lengths).tolist()
            needed = [length if each else 0 for length, each in zip(bought, taken, strict=True)]
            return _with_purchase(problem, plan, needed, packed, least)
        if over():
            return _buy_generously(problem, plan, pieces, lengths, least)
    return plan


def least_purchase(problem: Problem, lengths: list[int]) -> int:
    """Least total of bought reels that could be enough: what the reels on hand cannot hold, in whole reels. [units]"""
    core = build_core(problem)
    needed = max(1, int(core.lengths @ core.counts) - holdings(core).total)
    least = needed if _too_fine(lengths, needed) else sum(next(purchases(lengths, needed)))
    longest = int(core.capacity.max(initial=0))
    alone = core.lengths[(core.counts > 0) & (core.lengths > longest)].tolist()
    if alone:
        least = max(least, min(length for length in lengths if length >= max(alone)))
    return least


def purchases(lengths: list[int], least: int) -> Iterator[tuple[int, ...]]:
    """
    One purchase for each total from `least` [units] on that reels of these lengths can add up to, smallest first.

    Of each total the purchase with the longest reels (coin change, the totals that can be reached as a set of bits).
    Where the totals would be too many to list, only purchases of the longest reel.
    """
    step = math.gcd(*lengths)
    coins = sorted((length // step for length in lengths), reverse=True)
    first = max(1, -(-least // step))
    end = first + 2 * coins[0]
    while end <= MOST_TOTALS:
        reach = _reachable(coins, end)
        near = np.unpackbits(np.frombuffer(reach, dtype=np.uint8)[first // 8 :], bitorder="little")
        for total in (np.flatnonzero(near) + first // 8 * 8).tolist():
            if total >= first:
                yield tuple(coin * step for coin in _in_coins(coins, reach, total))
        first, end = end + 1, 2 * end
    number = max(1, -(-first // coins[0]))
    while True:
        yield (coins[0] * step,) * number
        number += 1


def _too_fine(lengths: list[int], least: int) -> bool:
    """Whether the totals up to a purchase are too many to list."""
    return (least + 2 * max(lengths)) // math.gcd(*lengths) >= MOST_TOTALS


def _reachable(coins: list[int], end: int) -> bytes:
    """Return which totals up to `end` the coins add up to, a bit each, lowest first."""
    mask = (1 << (end + 1)) - 1
    reach = 1
    for coin in coins:
        shift = coin
        while shift <= end:
            reach |= (reach << shift) & mask
            shift *= 2
    return reach.to_bytes(end // 8 + 1, "little")


def _in_coins(coins: list[int], reach: bytes, total: int) -> Iterator[int]:
    """Yield coins that add up to a total that can be reached, as many of the longest as can be."""
    for coin in coins:
        while total >= coin and reach[(total - coin) // 8] >> (total - coin) % 8 & 1:
            yield coin
            total -= coin


def _long_ones_fit(core: Core, pieces: Ints, longest: int, over: Callable[[], bool]) -> bool:
    """Whether the reels on hand hold all pieces that no reel on sale can hold, which alone would be in vain."""
    long = core.lengths > longest
    alone = replace(core, counts=np.where(long, core.counts, 0))
    for start in [pieces * long, *(best_fit(alone, order) for order in orders(alone))]:
        state = Draft(alone, start)
        Local(state, over).place_missing()
        if not state.missing.any():
            return True
    return False


def _try(problem: Problem, pieces: Ints, bought: tuple[int, ...], over: Callable[[], bool]) -> tuple[Core, Ints | None]:
    """Pieces on the reels on hand and the bought ones that leave nothing uncut, if found; with their core."""
    _, core, padded = _with_bought(problem, pieces, bought)
    for start in [padded, *(best_fit(core, order) for order in orders(core))]:
        state = Draft(core, start)
        Local(state, over).place_missing()
        if not state.missing.any():
            return core, state.pieces
        if over():
            break
    return core, None


def _buy_generously(problem: Problem, plan: Plan, pieces: Ints, lengths: list[int], least: int) -> Plan:
    """Out of time: best fit on as many of the longest as it takes, each then no longer than its pieces need."""
    here = len(problem.reels)
    for number in range(max(1, -(-least // lengths[0])), MOST_REELS + 1):
        _, core, packed = _with_bought(problem, pieces, (lengths[0],) * number)
        left = core.capacity - packed @ core.lengths
        missing = core.counts - packed.sum(axis=0)
        add_best_fit(core, packed, left, core.whole & ~packed.any(axis=1), orders(core)[1], missing)
        if not missing.any():
            taken = (packed[here:] @ core.lengths).tolist()
            needed = [min(length for length in lengths if length >= each) if each else 0 for each in taken]
            return _with_purchase(problem, plan, needed, packed, least)
    return plan


def _with_purchase(problem: Problem, plan: Plan, bought: Sequence[int], packed: Ints, least: int) -> Plan:
    """Return the plan with what is bought (0: a reel that is not needed), and the loads that show that it is enough."""
    here = len(problem.reels)
    used = [number for number, length in enumerate(bought) if length]
    counts = Counter(bought[number] for number in used)
    packed = np.vstack([packed[:here], packed[here:][used]])
    larger, _, _ = _with_bought(problem, packed[:here], [bought[number] for number in used])
    return replace(
        plan,
        buy=tuple(Purchase(length, counts[length]) for length in sorted(counts, reverse=True)),
        buy_bound=least,
        after_buying=read_loads(larger, larger.reels, packed),
    )


def _with_bought(problem: Problem, pieces: Ints, bought: Sequence[int]) -> tuple[Problem, Core, Ints]:
    """Return the problem with reels of these lengths added, its core, and the pieces with none on the new reels."""
    taken = {reel.id for reel in problem.reels}
    extra = []
    for length in bought:
        name = next(name for number in count(1) if (name := f"buy {length} #{number}") not in taken)
        taken.add(name)
        extra.append(StockReel(id=name, length=length, whole=True))
    larger = replace(problem, reels=(*problem.reels, *extra), kept=())
    none_yet = np.zeros((len(extra), pieces.shape[1]), dtype=np.int64)
    return larger, build_core(larger), np.vstack([pieces, none_yet])
