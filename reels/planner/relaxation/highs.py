"""The two ways HiGHS is used here: a linear programme that grows by columns, and a mixed-integer one solved once."""

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import highspy
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def quiet() -> highspy.Highs:
    """Return a HiGHS object that prints nothing, uses one thread and one seed, and never stops at a loose gap."""
    _greet()
    model = highspy.Highs()  # type: ignore[no-untyped-call]  # the wheel brings no annotations for it
    for option, value in (("output_flag", False), ("threads", 1), ("random_seed", 1), ("mip_rel_gap", 0.0)):
        model.setOptionValue(option, value)
    return model


@cache
def _greet() -> None:
    """
    Let HiGHS print its greeting where nobody reads it.

    It prints it with the first object, past Python and before any option could forbid it; among JSON it would do harm.
    """
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()  # type: ignore[no-untyped-call]  # as in `quiet`
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


@dataclass(frozen=True)
class Solution:
    """
    values is None when there is no solution; bound is the least that the objective can be.

    clocked : the clock ended the solver, so that with more time the answer could be another.
    """

    values: Floats | None
    bound: float
    infeasible: bool
    optimal: bool
    clocked: bool


def solve_mip(
    cost: Floats,
    upper: Floats,
    integer: NDArray[np.bool_],
    rows: list[tuple[NDArray[np.int32], Floats, float, float]],
    seconds: float,
    nodes: int,
    start: Floats | None = None,
    target: float | None = None,
    over: Callable[[], bool] | None = None,
) -> Solution:
    """
    Minimise cost . x over 0 <= x <= upper and rows (columns, coefficients, low, high).

    start : a solution to begin with. target : stop at the first solution that is this good. over : asked every few
    milliseconds whether to stop.
    """
    model = quiet()
    model.setOptionValue("time_limit", max(0.01, float(seconds)))
    model.setOptionValue("mip_max_nodes", int(nodes))
    if target is not None:
        model.setOptionValue("objective_target", float(target))
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(cost), len(rows)
    lp.col_cost_ = np.asarray(cost, dtype=float)
    lp.col_lower_ = np.zeros(len(cost))
    lp.col_upper_ = np.asarray(upper, dtype=float)
    lp.row_lower_ = np.array([row[2] for row in rows], dtype=float)
    lp.row_upper_ = np.array([row[3] for row in rows], dtype=float)
    lp.integrality_ = [highspy.HighsVarType.kInteger if yes else highspy.HighsVarType.kContinuous for yes in integer]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.concatenate(([0], np.cumsum([len(row[0]) for row in rows]))).astype(np.int32)
    lp.a_matrix_.index_ = np.concatenate([row[0] for row in rows]).astype(np.int32)
    lp.a_matrix_.value_ = np.concatenate([row[1] for row in rows]).astype(float)
    model.passModel(lp)
    if start is not None:
        solution = highspy.HighsSolution()
        solution.col_value = list(start)
        model.setSolution(solution)
    failed = _listen(model, over) if over is not None else []
    model.run()
    if failed:
        raise failed[0]
    status = model.getModelStatus()
    info = model.getInfo()
    has = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    optimal = status == highspy.HighsModelStatus.kOptimal
    values = np.array(model.getSolution().col_value) if has else None
    bound = float(info.mip_dual_bound)
    reached = bound if values is None else float(np.asarray(cost) @ values)
    if optimal and bound < reached - 1e-6 * max(1.0, abs(reached)):
        # HiGHS 1.16 now and then hands a start back and calls it optimal, with a bound that does not say so.
        if start is not None:
            return solve_mip(cost, upper, integer, rows, seconds, nodes, None, target, over)
        optimal = False
    return Solution(
        values=values,
        bound=bound,
        infeasible=status == highspy.HighsModelStatus.kInfeasible,
        optimal=optimal,
        clocked=status == highspy.HighsModelStatus.kTimeLimit,
    )


def _listen(model: highspy.Highs, over: Callable[[], bool]) -> list[Exception]:
    """Let `over` stop the solver; what it raises cannot pass through the solver and is returned in the list."""
    failed: list[Exception] = []

    def ask(event: highspy.HighsCallbackEvent) -> None:
        try:
            stop = bool(failed) or over()
        except Exception as error:  # raised again once the solver has returned
            failed.append(error)
            stop = True
        if stop:
            event.interrupt()

    model.cbMipInterrupt.subscribe(ask)
    return failed
