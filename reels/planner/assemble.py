"""Turns a matrix of pieces into a plan that people can read: loads in cutting order, levels, end pieces."""

from fractions import Fraction

import numpy as np

from reels.planner.core import Ints, build_core, rate_weights
from reels.planner.plan import Bounds, Pieces, Plan, ReelLoad
from reels.planner.problem import Demand, Problem, StockReel
from reels.planner.ranking import Ranking


def assemble(problem: Problem, pieces: Ints, bounds: Bounds, stopped: str, seconds: float) -> Plan:
    """Return the plan of a matrix [reels, demands] of pieces that leaves out the frozen ones."""
    loads = read_loads(problem, problem.reels, pieces)
    cut = dict.fromkeys((demand.id for demand in problem.demands), 0)
    for load in loads:
        for piece in load.cuts:
            cut[piece.demand] += piece.pieces
    unmet = tuple(
        Pieces(demand.id, demand.count - cut[demand.id]) for demand in problem.demands if demand.count > cut[demand.id]
    )
    levels = Ranking(problem, build_core(problem)).levels(pieces)
    weights, scale = rate_weights(problem)
    traded = (levels.scrap, levels.whole_reels, levels.remnants, levels.setups)
    cost = sum(weight * level for weight, level in zip(weights, traded, strict=True))
    return Plan(
        loads=loads,
        unmet=unmet,
        levels=levels,
        bounds=bounds,
        cost=problem.unit.feet(Fraction(cost, scale)),
        stopped=stopped,
        seconds=seconds,
    )


def read_loads(problem: Problem, reels: tuple[StockReel, ...], pieces: Ints) -> tuple[ReelLoad, ...]:
    """Return loads of the reels that are cut; pieces in the order to cut them."""
    place = {demand.id: number for number, demand in enumerate(problem.demands)}
    loads = []
    for reel, row in zip(reels, pieces, strict=True):
        counts = {int(number): int(row[number]) for number in np.flatnonzero(row)}
        for key, frozen in reel.frozen:
            counts[place[key]] = counts.get(place[key], 0) + frozen
        if not counts:
            continue
        demands = [(problem.demands[number], count) for number, count in counts.items()]
        demands.sort(key=_cutting_order)
        end = reel.usable - sum(demand.length * count for demand, count in demands)
        end_is = "used up" if end == 0 else "remnant" if end >= problem.keep else "scrap"
        loads.append(ReelLoad(reel.id, tuple(Pieces(demand.id, count) for demand, count in demands), end, end_is))
    return tuple(loads)


def pieces_of(problem: Problem, loads: tuple[ReelLoad, ...]) -> Ints:
    """Return the matrix [reels, demands] behind loads, frozen pieces left out."""
    place = {demand.id: number for number, demand in enumerate(problem.demands)}
    row = {reel.id: number for number, reel in enumerate(problem.reels)}
    pieces = np.zeros((len(problem.reels), len(problem.demands)), dtype=np.int64)
    for load in loads:
        for piece in load.cuts:
            pieces[row[load.reel], place[piece.demand]] += piece.pieces
    for reel in problem.reels:
        for key, count in reel.frozen:
            pieces[row[reel.id], place[key]] -= count
    return pieces


def _cutting_order(item: tuple[Demand, int]) -> tuple[int, str, int, str]:
    """Earliest pulled first, a run's pieces together, longest first."""
    demand = item[0]
    return demand.date_class, demand.run_key, -demand.length, demand.id
