"""
The planner beside best-fit decreasing and beside the plain assignment models, on the instances in tests/data/cutting.

Run: python -m tests.benchmarks.planner [reels|models|stock|first|large|all] [seconds ...]

Seconds are processor time of this one process, because other work may share the machine: the planner reads it as its
clock; the assignment models, which only know wall clock, get it stretched by what a short loop measures just before.
Every plan passes check_plan before it is counted. CP-SAT needs the extra `bench`.
"""

import json
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from reels.planner import watch
from reels.planner.assemble import assemble
from reels.planner.check import check_plan
from reels.planner.core import build_core
from reels.planner.files.bare import read_bare
from reels.planner.moves.assignment import assign
from reels.planner.moves.greedy import best_fit, orders
from reels.planner.plan import Bounds
from reels.planner.problem import TENTH_FOOT, Demand, Limits, Problem, StockReel
from reels.planner.solve import plan_cuts
from reels.planner.stock_lengths.stock_search import plan_stock

DATA = Path(__file__).resolve().parents[1] / "data" / "cutting"


def files(pattern):
    return [json.loads(path.read_text()) for path in sorted(DATA.glob(pattern))]


def stretch():
    """Wall clock over processor time of a busy loop: how crowded the machine is just now."""
    wall, cpu = time.monotonic(), time.process_time()
    while time.process_time() - cpu < 0.3:
        pass
    return max(1.0, (time.monotonic() - wall) / (time.process_time() - cpu))


def feet(problem, units):
    return float(problem.unit.feet(units))


def spreadsheet(problem):
    core = build_core(problem)
    plan = assemble(problem, best_fit(core, orders(core)[0]), Bounds(), "finished", 0.0)
    check_plan(problem, plan)
    return plan


def reels(budgets):
    """Level by level against best-fit decreasing, in the strict order and at rates."""
    for strict in (True, False):
        for seconds in budgets:
            rows = []
            for data in files("S_reel_*.json"):
                problem = replace(read_bare(data, seconds=seconds).problem, strict=strict)
                sheet, plan = spreadsheet(problem), plan_cuts(problem)
                check_plan(problem, plan)
                rows.append((data, problem, sheet, plan))
                show_reels(data, problem, plan, strict, seconds)
            sum_up(rows, strict, seconds)


def show_reels(data, problem, plan, strict, seconds):
    levels, bounds = plan.levels, plan.bounds
    scrap = "-" if bounds.scrap is None else f"{feet(problem, bounds.scrap):.2f}"
    cost = "-" if bounds.cost is None else f"{float(bounds.cost):.2f}"
    print(
        f"{'strict' if strict else 'rates'} {seconds:g} s {data['name']}:"
        f" unmet {feet(problem, levels.unmet_weighted):.1f} scrap {feet(problem, levels.scrap):.2f} >= {scrap}"
        f" whole {levels.whole_reels} >= {bounds.whole_reels} remnants {levels.remnants} set-ups {levels.setups}"
        f" cost {float(plan.cost):.2f} >= {cost} {plan.stopped}",
        flush=True,
    )


def sum_up(rows, strict, seconds):
    possible = [row for row in rows if row[0]["levels"]["unmetFeet"]["best"] == 0]
    met = sum(plan.levels.unmet == 0 for *_, plan in possible)
    both = [row for row in possible if row[3].levels.unmet == 0]

    def total(name, which):
        return sum(getattr(row[which].levels, name) for row in both)

    scrap = [sum(feet(row[1], row[which].levels.scrap) for row in both) for which in (2, 3)]
    above = max(feet(p, plan.levels.scrap - plan.bounds.scrap) for _, p, _, plan in both)
    whole_above = max(plan.levels.whole_reels - plan.bounds.whole_reels for *_, plan in both)
    proven = sum(plan.proven["scrap"] and plan.proven["whole_reels"] for *_, plan in both)
    print(
        f"== {'strict' if strict else 'rates'} {seconds:g} s: all cut {met} of {len(possible)}; scrap {scrap[1]:.1f} of"
        f" {scrap[0]:.1f} ft = {scrap[1] / scrap[0]:.4f}; whole {total('whole_reels', 3)} of {total('whole_reels', 2)};"
        f" remnants {total('remnants', 3)} of {total('remnants', 2)}; set-ups {total('setups', 3)} of"
        f" {total('setups', 2)} = {total('setups', 3) / total('setups', 2):.3f}; most scrap above bound {above:.2f} ft;"
        f" most whole reels above bound {whole_above}; scrap and whole reels proven {proven}",
        flush=True,
    )


def models(budgets):
    """The plain assignment models: HiGHS and CP-SAT, with unmet, scrap and whole reels in the objective."""
    for seconds in budgets:
        for name, solve in (("assignment HiGHS", plain_highs), ("assignment CP-SAT", plain_cpsat)):
            met = cases = 0
            ours = sheets = theirs = 0.0
            for data in files("S_reel_*.json"):
                if data["levels"]["unmetFeet"]["best"]:
                    continue
                problem = read_bare(data, seconds=seconds).problem
                cases += 1
                pieces = solve(problem, seconds * stretch())
                if pieces is None:
                    continue
                plan = assemble(problem, pieces, Bounds(), "finished", 0.0)
                check_plan(problem, plan)
                if plan.levels.unmet:
                    continue
                met += 1
                theirs += feet(problem, plan.levels.scrap)
                sheets += feet(problem, spreadsheet(problem).levels.scrap)
                ours += feet(problem, plan_cuts(replace(problem, strict=True)).levels.scrap)
            print(
                f"== {name} {seconds:g} s: all cut {met} of {cases}; scrap there {theirs:.1f} ft, planner {ours:.1f},"
                f" spreadsheet {sheets:.1f}",
                flush=True,
            )


def plain_highs(problem, seconds):
    core = build_core(problem)
    everywhere = list(range(len(core.capacity)))
    start = np.zeros((len(core.capacity), len(core.lengths)), dtype=np.int64)
    penalty = core.penalty * 10.0
    whole = 0.9 / (int(core.whole.sum()) + 1)
    return assign(core, everywhere, core.counts, start, (1.0, whole, 0.0, 0.0), penalty, seconds, 10**9).pieces


def plain_cpsat(problem, seconds):
    from ortools.sat.python import cp_model

    core = build_core(problem)
    model = cp_model.CpModel()
    cost, pieces = [], {}
    scale = int(core.whole.sum()) + 2
    for r, capacity in enumerate(core.capacity.tolist()):
        for i, length in enumerate(core.lengths.tolist()):
            pieces[r, i] = model.new_int_var(0, min(int(core.counts[i]), capacity // length), "")
        used, kept = model.new_bool_var(""), model.new_bool_var("")
        waste = model.new_int_var(0, core.keep - 1, "")
        taken = sum(pieces[r, i] * length for i, length in enumerate(core.lengths.tolist()))
        model.add(taken <= capacity * used)
        model.add(waste >= capacity * used - taken - capacity * kept)
        model.add(capacity * used - taken >= core.keep * kept)
        cost += [scale * waste] + ([used] if core.whole[r] else [])
    for i, count in enumerate(core.counts.tolist()):
        uncut = model.new_int_var(0, count, "")
        model.add(sum(pieces[r, i] for r in range(len(core.capacity))) + uncut == count)
        cost.append(uncut * int(core.penalty[i]) * 10 * scale)
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    found = np.zeros((len(core.capacity), len(core.lengths)), dtype=np.int64)
    for (r, i), variable in pieces.items():
        found[r, i] = solver.value(variable)
    return found


def stock(budgets):
    """Single and several stock lengths: optimum reached, optimum proven, time."""
    for seconds in budgets:
        count = reached = proven = 0
        for data in files("*.json"):
            if data["kind"] == "reels":
                continue
            plan = plan_stock(read_bare(data, seconds=seconds).problem)
            count += 1
            reached += plan.cost == data["optimum"]
            proven += plan.proven
            print(
                f"{seconds:g} s {data['name']}: {plan.cost} >= {plan.bound}, optimum {data['optimum']},"
                f" {plan.seconds:.2f} s",
                flush=True,
            )
        print(f"== stock {seconds:g} s: reached {reached}, proven {proven} of {count}", flush=True)


def generated(runs, whole, short, seed):
    """A problem of a size that no shared instance has."""
    rng = np.random.default_rng(seed)
    demands = tuple(
        Demand(f"R{i}", int(rng.integers(300, 6000)), int(rng.choice([3, 4, 6])), date_class=int(rng.integers(1, 6)))
        for i in range(runs)
    )
    total = sum(d.length * d.count for d in demands)
    lengths = [int(length) for length in rng.normal(total * 1.12 / whole, total * 0.02 / whole, whole)]
    reels_ = tuple(StockReel(f"W{i}", length, True) for i, length in enumerate(lengths))
    reels_ += tuple(StockReel(f"P{i}", int(rng.integers(400, 5000)), False) for i in range(short))
    return Problem(TENTH_FOOT, reels_, demands, keep=300)


def first(_budgets):
    """Time of the first plan, over the median of best-fit decreasing alone."""
    for runs, whole, short in ((100, 70, 30), (500, 280, 120)):
        problem = replace(generated(runs, whole, short, 1), limits=Limits(seconds=0.0))
        times = []
        for _ in range(3):
            began = time.process_time()
            plan_cuts(problem)
            times.append(time.process_time() - began)
        began = time.process_time()
        spreadsheet(problem)
        sheet = time.process_time() - began
        print(
            f"== first plan, {runs} runs x {whole + short} reels: {sorted(times)[1]:.3f} s,"
            f" best fit alone {sheet:.3f} s"
        )


def large(budgets):
    """Five hundred runs on four hundred reels: levels against best fit, and memory."""
    import resource

    for strict in (True, False):
        for seconds in budgets:
            problem = replace(generated(500, 280, 120, 1), limits=Limits(seconds=seconds), strict=strict)
            sheet, plan = spreadsheet(problem), plan_cuts(problem)
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"== large {'strict' if strict else 'rates'} {seconds:g} s: {plan.levels} {plan.bounds}"
                f" best fit {sheet.levels} peak {peak:.0f} MB",
                flush=True,
            )


def main():
    watch.clock = time.process_time
    what = sys.argv[1] if len(sys.argv) > 1 else "all"
    budgets = [float(word) for word in sys.argv[2:]] or [1.0, 5.0, 30.0]
    parts = {"first": first, "reels": reels, "stock": stock, "models": models, "large": large}
    for name, part in parts.items():
        if what in (name, "all"):
            part(budgets)


if __name__ == "__main__":
    main()
