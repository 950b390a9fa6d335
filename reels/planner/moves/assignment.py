"""
Pieces to a few reels as one mixed-integer problem: for neighbourhoods, and whole for small problems.

The usual assignment model with a binary for each remnant and each set-up; the usable-leftover costs follow
A. C. Cherri, M. N. Arenales, H. H. Yanasse (2009), EJOR 196.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from reels.planner.core import Core, Ints
from reels.planner.relaxation.highs import Floats, solve_mip

Weights = tuple[float, float, float, float]


@dataclass(frozen=True)
class Solved:
    """
    pieces [given reels, demands] or None; bound is below the cost of every solution, None where unknown.

    clocked : the clock ended the solver.
    """

    pieces: Ints | None
    bound: float | None
    optimal: bool
    clocked: bool


@dataclass
class _Rows:
    """Columns and rows as they are written down."""

    cost: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    integer: list[bool] = field(default_factory=list)
    rows: list[tuple[np.ndarray, np.ndarray, float, float]] = field(default_factory=list)

    def column(self, cost: float, upper: float, integer: bool = True) -> int:
        self.cost.append(cost)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.cost) - 1

    def row(self, terms: Sequence[tuple[int, float]], low: float, high: float) -> None:
        columns, values = zip(*terms, strict=True)
        self.rows.append((np.array(columns, dtype=np.int32), np.array(values, dtype=float), low, high))


def assign(
    core: Core,
    reels: Sequence[int],
    pool: Ints,
    start: Ints,
    weights: Weights,
    penalty: Floats | None,
    seconds: float,
    nodes: int,
    most: tuple[float, float, float] = (np.inf, np.inf, np.inf),
    over: Callable[[], bool] | None = None,
) -> Solved:
    """
    Share the pieces of `pool` (per demand) out to `reels` at least cost.

    start : pieces [given reels, demands] to begin with. weights : cost of a unit of scrap, a whole reel, a remnant,
    a set-up. penalty : cost of an uncut piece per demand; None: all must be cut. most : caps on scrap [units],
    whole reels and remnants. over : asked now and then whether to stop.
    """
    model = _Rows()
    demands = np.flatnonzero(pool).tolist()
    first: list[float] = []
    sums: dict[int, list[tuple[int, float]]] = {demand: [] for demand in demands}
    totals: tuple[list, list, list] = ([], [], [])
    places: dict[tuple[int, int], int] = {}
    for number, reel in enumerate(reels):
        _add_reel(model, core, reel, number, demands, pool, start, weights, sums, totals, places, first)
    for demand in demands:
        uncut = int(pool[demand] - start[:, demand].sum())
        if penalty is not None:
            sums[demand].append((model.column(float(penalty[demand]), float(pool[demand])), 1.0))
            first.append(float(uncut))
        model.row(sums[demand], float(pool[demand]), float(pool[demand]))
    for terms, high in zip(totals, most, strict=True):
        if terms and np.isfinite(high):
            model.row(terms, -np.inf, float(high))
    answer = solve_mip(
        np.array(model.cost),
        np.array(model.upper),
        np.array(model.integer),
        model.rows,
        seconds,
        nodes,
        start=np.array(first),
        over=over,
    )
    bound = answer.bound if np.isfinite(answer.bound) and abs(answer.bound) < 1e20 else None
    if answer.values is None:
        return Solved(None, bound, False, answer.clocked)
    pieces = np.zeros((len(reels), len(core.lengths)), dtype=np.int64)
    for (number, demand), column in places.items():
        pieces[number, demand] = round(answer.values[column])
    return Solved(pieces, bound, answer.optimal, answer.clocked)


def _add_reel(
    model: _Rows,
    core: Core,
    reel: int,
    number: int,
    demands: list[int],
    pool: Ints,
    start: Ints,
    weights: Weights,
    sums: dict[int, list[tuple[int, float]]],
    totals: tuple[list, list, list],
    places: dict[tuple[int, int], int],
    first: list[float],
) -> None:
    scrap, whole, remnant, setup = weights
    capacity = int(core.capacity[reel])
    row = start[number]
    used = bool(row.any()) or bool(core.started[reel])
    end = capacity - int(row @ core.lengths)
    terms = []
    by_run: dict[int, list[tuple[int, float]]] = {}
    for demand in demands:
        most = min(int(pool[demand]), capacity // int(core.lengths[demand]))
        if most == 0:
            continue
        column = model.column(0.0, float(most))
        first.append(float(row[demand]))
        places[number, demand] = column
        sums[demand].append((column, 1.0))
        terms.append((column, float(core.lengths[demand])))
        if setup:
            by_run.setdefault(int(core.runs[demand]), []).append((column, 1.0 / most))
    for run, shares in by_run.items():
        if run in core.frozen_runs[reel]:
            continue
        flag = model.column(setup, 1.0)
        first.append(float((row[core.runs == run] > 0).any()))
        for column, share in shares:
            model.row([(column, share), (flag, -1.0)], -np.inf, 0.0)
    cut = model.column(whole * float(core.whole[reel]), 1.0)
    first.append(float(used))
    if core.started[reel]:
        model.row([(cut, 1.0)], 1.0, 1.0)
    kept = model.column(remnant, 1.0)
    first.append(float(used and end >= core.keep))
    waste = model.column(scrap, float(min(capacity, core.keep - 1)), integer=False)
    first.append(float(end if used and end < core.keep else 0))
    # 0 <= end; waste is the whole end unless the end is kept, and what is kept is at least the keep length.
    model.row([*terms, (cut, -float(capacity))], -np.inf, 0.0)
    model.row([*terms, (cut, -float(capacity)), (waste, 1.0), (kept, float(capacity))], 0.0, np.inf)
    model.row([*terms, (cut, -float(capacity)), (kept, float(core.keep))], -np.inf, 0.0)
    model.row([(kept, 1.0), (cut, -1.0)], -np.inf, 0.0)
    totals[0].append((waste, 1.0))
    if core.whole[reel]:
        totals[1].append((cut, 1.0))
    totals[2].append((kept, 1.0))
