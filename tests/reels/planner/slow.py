"""Problems that only the clock, or who watches, ends: the tests see what comes of them, the benchmarks how soon."""

import random

from reels.planner.problem import MILLIMETRE, TENTH_FOOT, Demand, Limits, Problem, StockReel


def slow_to_prove():
    """Six runs of which HiGHS does not prove the cheapest plan in many seconds."""
    rng = random.Random(0)
    demands = tuple(
        Demand(f"D{number}", rng.randint(300, 2500), rng.randint(2, 6), set_id=f"S{number // 2}") for number in range(6)
    )
    needed = sum(demand.length * demand.count for demand in demands) * rng.choice([0.85, 1.05, 1.2])
    reels = []
    while sum(reel.length for reel in reels) < needed:
        length = rng.choice([5000, 10000, rng.randint(600, 4000)])
        reels.append(StockReel(f"R{len(reels)}", length, length in (5000, 10000)))
    return Problem(TENTH_FOOT, tuple(reels), demands, keep=300, strict=True, limits=Limits(seconds=15.0, tries=30))


def one_more_reel(limits):
    """One reel of 50 beside what is here is enough: 3 x 30 fit into 100, one is missing."""
    reels = (StockReel("W0", 100, True),)
    return Problem(TENTH_FOOT, reels, (Demand("D", 30, 4),), keep=20, buy_lengths=(50, 150), limits=limits)


def too_long_for_sale():
    """Pieces of 300 of which three fit on the reel here, and none on a reel for sale."""
    reels = (StockReel("W0", 1000, True),)
    limits = Limits(seconds=1.0)
    return Problem(TENTH_FOOT, reels, (Demand("D", 300, 9),), keep=20, buy_lengths=(100, 200), limits=limits)


def many_on_a_fine_grid():
    """A thousand pieces, to the millimetre: ten fit into 603 565, five into 301 782; 995 are missing."""
    reels = (StockReel("W0", 300_000, True),)
    demands = (Demand("D", 57_123, 1000),)
    limits = Limits(seconds=1.0)
    return Problem(MILLIMETRE, reels, demands, keep=6000, buy_lengths=(301_782, 603_565), limits=limits)
