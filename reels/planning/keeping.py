"""
Planning again: an accepted plan is changed no further than cutting more makes necessary.

What was accepted is held like frozen pieces. Only if that leaves more uncut than a free plan does are reels let go,
the fewest first, those with most room for change before the others.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from reels.planning.problem import Problem, Reel


def held(problem: Problem, released: frozenset[str]) -> Problem:
    """Return the problem with kept pieces frozen, those of released reels and those that no longer fit left out."""
    demands = {demand.id: demand for demand in problem.demands}
    free = Counter({demand.id: demand.count for demand in problem.demands})
    for reel in problem.reels:
        for key, pieces in reel.frozen:
            free[key] -= pieces
    kept: dict[str, Counter[str]] = {}
    for assigned in problem.kept:
        if assigned.demand in demands and assigned.reel not in released:
            kept.setdefault(assigned.reel, Counter())[assigned.demand] += assigned.pieces
    reels = []
    for reel in problem.reels:
        frozen: Counter[str] = Counter()
        for key, pieces in reel.frozen:
            frozen[key] += pieces
        room = reel.usable - sum(demands[key].length * pieces for key, pieces in frozen.items())
        wanted = kept.get(reel.id, Counter())
        # Kept pieces may name the frozen ones again; what is pulled first stays.
        for key in sorted(wanted, key=lambda each: (demands[each].date_class, -demands[each].length, each)):
            extra = min(wanted[key] - frozen[key], free[key], room // demands[key].length)
            if extra > 0:
                frozen[key] += extra
                free[key] -= extra
                room -= extra * demands[key].length
        reels.append(replace(reel, frozen=tuple(sorted(frozen.items()))))
    return replace(problem, reels=tuple(reels), kept=())


def releases(problem: Problem) -> Iterator[frozenset[str]]:
    """Return sets of reels to let go: none, then more and more of those with the longest end pieces, then all."""
    kept: Counter[str] = Counter()
    lengths = {demand.id: demand.length for demand in problem.demands}
    for assigned in problem.kept:
        kept[assigned.reel] += assigned.pieces * lengths.get(assigned.demand, 0)

    def room(reel: Reel) -> int:
        return reel.usable - kept[reel.id]

    ranked = sorted((reel for reel in problem.reels if kept[reel.id]), key=lambda reel: (-room(reel), reel.id))
    number = 0
    while number < len(ranked):
        yield frozenset(reel.id for reel in ranked[:number])
        number = max(1, number * 2)
    yield frozenset(reel.id for reel in ranked)
