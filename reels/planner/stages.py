"""The order of the stages, and what part of the time each may use."""

import numpy as np

from reels.planner.bounds import ProvenBounds
from reels.planner.core import Core
from reels.planner.moves.assignment import Weights, assign
from reels.planner.moves.first_plans import best_pieces, first_plans, polish, restricted_plans
from reels.planner.moves.improve import improve, milp_penalty
from reels.planner.moves.local import Local
from reels.planner.relaxation.dive import SHARE, dive
from reels.planner.relaxation.relax import MOST_CELLS, Prices, Relaxation, most_setups, strict_prices
from reels.planner.state import Draft
from reels.planner.watch import Watch

# Runs times reels up to which the whole problem is also given to the solver at once.
SMALL = 300
# Pricing rounds that a relaxation and its dive take, to judge whether there is time for them.
ROUNDS_EXPECTED = 60
# No machine prices a cell of the table faster; it spares trying where that alone would take too long. [s]
LEAST_PER_CELL = 1e-9
# Above so many demands a dive fixes more at once, because each of its linear programmes takes long.
MANY = 200


def start(core: Core, watch: Watch) -> None:
    """Greedy plans and pair re-splits: a good plan soon."""
    first_plans(core, watch)
    restricted_plans(core, watch, watch.until(0.3))
    best = best_pieces(watch)
    if core.strict and core.levels(best)[0] > 0 and not (core.counts - best.sum(axis=0)).any():
        # Scrap alone would now open whole reels; first see how far those in use can go.
        few = core.only(~core.whole | (best.sum(axis=1) > 0))
        improve(few, watch, watch.limits.tries // 4, watch.until(0.3))
    polish(core, watch, watch.until(0.2))


def relax(core: Core, watch: Watch, proof: ProvenBounds | None) -> None:
    """Column generation for the bound and a dive for a plan, if the pricing is quick enough."""
    if not core.counts.any() or not _could_be_quick(core, watch):
        return
    prices = strict_prices(core) if core.strict else Prices(*(float(weight) for weight in core.weights))
    relaxation = Relaxation(core, prices)
    if not _quick_enough(relaxation, watch):
        return
    relaxation.add_plan(best_pieces(watch))
    relaxation.run(watch.limits.rounds, watch.until(0.7))
    complete = not (core.counts - best_pieces(watch).sum(axis=0)).any()
    if proof is not None and complete:
        _take_bounds(core, relaxation, prices, proof, watch)
        watch.tell("bound")
    many = len(core.lengths) > MANY
    chosen = dive(
        relaxation.master, watch.until(0.7), rounds=2 if many else 6, several=1, share=0.25 if many else SHARE
    )
    state = Draft(core, relaxation.spread(chosen))
    Local(state, watch.until(0.5)).run()
    watch.offer(core, state.pieces, "dive")


def _could_be_quick(core: Core, watch: Watch) -> bool:
    cells = Relaxation.cells(core)
    return cells <= MOST_CELLS and not watch.over() and _in_time(watch, cells * LEAST_PER_CELL * ROUNDS_EXPECTED)


def _quick_enough(relaxation: Relaxation, watch: Watch) -> bool:
    # The first pricing also pays for fresh memory, so the second is the one to judge by.
    relaxation.master.pricer.price(np.zeros(relaxation.master.demands))
    began = watch.elapsed()
    relaxation.master.pricer.price(np.zeros(relaxation.master.demands))
    return _in_time(watch, (watch.elapsed() - began) * ROUNDS_EXPECTED / 0.6)


def _in_time(watch: Watch, seconds: float) -> bool:
    """Whether so much time is left; if not, it is the clock that leaves a stage out."""
    if seconds < watch.left():
        return True
    watch.clocked = True
    return False


def _take_bounds(core: Core, relaxation: Relaxation, prices: Prices, proof: ProvenBounds, watch: Watch) -> None:
    if not core.strict:
        proof.cost_at_least(relaxation.bound)
        return
    strict_bounds(core, relaxation, prices, proof, core.levels(best_pieces(watch))[0])


def strict_bounds(core: Core, relaxation: Relaxation, prices: Prices, proof: ProvenBounds, scrap: int) -> None:
    """Read from a bound in strict prices one on scrap, and one on whole reels for plans that scrap no more."""
    small = prices.remnant * len(core.capacity) + prices.setup * most_setups(core)
    proof.scrap_at_least(relaxation.bound - prices.whole * int(core.whole.sum()) - small)
    proof.least_given((scrap,), (relaxation.bound - scrap - small) / prices.whole)


def scrap_bound(core: Core, watch: Watch, proof: ProvenBounds) -> None:
    """At rates: a bound on scrap by itself, where the best plan has some."""
    if core.strict or not _could_be_quick(core, watch):
        return
    best = best_pieces(watch)
    if (core.counts - best.sum(axis=0)).any() or core.levels(best)[0] <= proof.scrap:
        return
    prices = strict_prices(core)
    relaxation = Relaxation(core, prices)
    if _quick_enough(relaxation, watch):
        relaxation.add_plan(best)
        relaxation.run(watch.limits.rounds, watch.until(0.3))
        strict_bounds(core, relaxation, prices, proof, core.levels(best)[0])


def whole_problem(core: Core, watch: Watch, proof: ProvenBounds | None) -> None:
    """Small problems as one mixed-integer problem; in the strict order one level after the other."""
    live = np.flatnonzero(core.capacity > 0).tolist()
    if len(live) * len(core.lengths) > SMALL or not live or not core.counts.any() or watch.over():
        return
    if not core.strict:
        weights: Weights = tuple(float(weight) for weight in core.weights)  # type: ignore[assignment]  # four in, four out
        bound, _ = _solve_whole(core, watch, live, weights, (np.inf, np.inf, np.inf), 0.5)
        if proof is not None and bound is not None:
            proof.cost_at_least(bound)
        return
    caps = [np.inf, np.inf, np.inf]
    for level in range(4):
        weights = tuple(float(level == other) for other in range(4))  # type: ignore[assignment]  # four in, four out
        bound, optimal = _solve_whole(core, watch, live, weights, (caps[0], caps[1], caps[2]), 0.4)
        if bound is None:
            return
        if proof is not None and level == 0:
            proof.scrap_at_least(bound)
        elif proof is not None:
            proof.least_given(tuple(int(cap) for cap in caps[:level]), bound)
        if not optimal:
            return
        if level < 3:
            caps[level] = core.levels(best_pieces(watch))[level]


def _solve_whole(
    core: Core, watch: Watch, live: list[int], weights: Weights, caps: tuple[float, float, float], share: float
) -> tuple[float | None, bool]:
    """Solve for one objective; the bound (None while pieces are missing) and whether it is reached."""
    best = best_pieces(watch)
    missing = (core.counts - best.sum(axis=0)).any()
    penalty = milp_penalty(core) if missing else None
    seconds = share * watch.left()
    solved = assign(
        core, live, core.counts, best[live], weights, penalty, seconds, watch.limits.nodes, caps, over=watch.over
    )
    watch.clocked |= solved.clocked
    if solved.pieces is not None:
        pieces = np.zeros_like(best)
        pieces[live] = solved.pieces
        if (pieces @ core.lengths <= core.capacity).all() and (pieces.sum(axis=0) <= core.counts).all():
            watch.offer(core, pieces, "whole")
    return (None if missing else solved.bound), solved.optimal and not missing


def finish(core: Core, watch: Watch) -> None:
    """Neighbourhoods until the limits are reached."""
    if not watch.over():
        improve(core, watch, watch.limits.tries, watch.over)
