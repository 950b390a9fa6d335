"""Small cutting problems: by hypothesis for the tests, by a seed for the benchmarks."""

import random
from fractions import Fraction

import numpy as np
from hypothesis import strategies as st

from reels.planner.core import Ints
from reels.planner.problem import Demand, Limits, Problem, Rates, StockReel, Unit

QUICK = Limits(seconds=5.0, rounds=60, tries=6, nodes=2000)


@st.composite
def problems(draw, frozen=False):
    """Up to four reels and four runs, short or ample, strict or at rates."""
    return random_problem(random.Random(draw(st.integers(0, 10**9))), frozen=frozen)


def random_problem(rng: random.Random, *, frozen: bool = False, limits: Limits = QUICK) -> Problem:
    """One small problem; the same generator state gives the same problem."""
    reels = []
    for number in range(rng.randint(1, 4)):
        whole = rng.random() < 0.6
        reels.append(
            StockReel(f"R{number}", rng.randint(20, 90) if whole else rng.randint(5, 40), whole, rng.choice([0, 0, 3]))
        )
    demands = [_random_demand(rng, number) for number in range(rng.randint(1, 4))]
    if frozen:
        reels, demands = _freeze(rng, reels, demands)
    rates = rng.choice(
        [Rates(), Rates(Fraction(3), Fraction(1, 2), Fraction(1, 10)), Rates(Fraction(0), Fraction(0), Fraction(0))]
    )
    return Problem(
        unit=Unit("unit", Fraction(rng.choice([1, 10, 12]))),
        reels=tuple(reels),
        demands=tuple(demands),
        keep=rng.randint(1, 25),
        rates=rates,
        strict=rng.random() < 0.5,
        unmet_by_sets=rng.random() < 0.5,
        buy_lengths=rng.choice([(), (), (40,), (30, 50, 80)]),
        limits=limits,
    )


def hidden_problem(rng: random.Random, *, limits: Limits = QUICK) -> tuple[Problem, Ints]:
    """
    A problem as large as a site's, made from a plan that cuts everything: its pieces [reel, demand].

    Nothing that is proven may be worse than that plan.
    """
    number, kinds = rng.randint(2, 40), rng.randint(1, 150)
    longest = rng.choice([300, 3_000, 30_000])
    lengths = [rng.randint(longest // 40, longest) for _ in range(kinds)]
    pieces = np.zeros((number, kinds), dtype=np.int64)
    reels = []
    for reel in range(number):
        for _ in range(rng.randint(0, rng.choice([3, 12, 60]))):
            pieces[reel, rng.randrange(kinds)] += 1
        used = int(pieces[reel] @ lengths)
        end = rng.choice([0, 0, rng.randint(0, longest // 10), rng.randint(0, 2 * longest)])
        reels.append(StockReel(f"R{reel}", used + end, rng.random() < 0.7))
    demands = tuple(
        Demand(f"D{kind}", length, int(pieces[:, kind].sum()), run_id=f"run{kind // rng.choice([1, 3])}")
        for kind, length in enumerate(lengths)
    )
    problem = Problem(
        Unit("unit", Fraction(rng.choice([1, 10, 12]))),
        tuple(reels),
        demands,
        keep=rng.randint(1, longest),
        strict=rng.random() < 0.5,
        unmet_by_sets=rng.random() < 0.5,
        limits=limits,
    )
    return problem, pieces


def _random_demand(rng: random.Random, number: int) -> Demand:
    return Demand(
        id=f"D{number}",
        length=rng.randint(4, 30),
        count=rng.randint(0, 3),
        set_id=f"S{rng.randint(0, number)}" if rng.random() < 0.3 else "",
        run_id=f"run{rng.randint(0, number)}" if rng.random() < 0.3 else "",
        date_class=rng.randint(1, 3),
        weight=rng.choice([1, 2, 4]),
    )


def _freeze(rng: random.Random, reels: list[StockReel], demands: list[Demand]) -> tuple[list[StockReel], list[Demand]]:
    """Promise one piece to the first reel that holds it."""
    demand = rng.choice(demands)
    if demand.count == 0:
        return reels, demands
    for number, reel in enumerate(reels):
        if reel.usable >= demand.length:
            reels = list(reels)
            reels[number] = StockReel(reel.id, reel.length, reel.whole, reel.tail, ((demand.id, 1),))
            break
    return reels, demands
