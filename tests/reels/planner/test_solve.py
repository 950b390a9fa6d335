"""The planner on small problems against listing every plan and against SciPy, and on shared ones."""

import json
import os
import random
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from reels.planner.check import check_plan
from reels.planner.core import build_core
from reels.planner.files.bare import read_bare
from reels.planner.moves.greedy import best_fit, orders
from reels.planner.problem import TENTH_FOOT, Assigned, Demand, Limits, Problem, ProblemError, Rates, StockReel
from reels.planner.solve import plan_cuts
from reels.planner.watch import Watch
from tests.reels.planner.generate import hidden_problem, problems
from tests.reels.planner.judge import faults, faults_beside, least_cost
from tests.reels.planner.reference import best_by_milp
from tests.reels.planner.slow import slow_to_prove

DATA = Path(__file__).resolve().parents[2] / "data" / "cutting"
SHARED = sorted(path.stem for path in DATA.glob("S_reel_*.json"))
SLOW = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def shared(name, seconds=1.0, strict=False):
    data = json.loads((DATA / f"{name}.json").read_text())
    return data, replace(read_bare(data, seconds=seconds).problem, strict=strict)


@SLOW
@given(problems(frozen=True))
def test_no_plan_is_invalid_and_no_bound_is_above_what_can_be_reached(problem):
    assert faults(problem, plan_cuts(problem)) == []


@SLOW
@given(problems())
def test_without_time_the_first_plan_is_still_valid_and_its_bounds_hold(problem):
    problem = replace(problem, limits=Limits(seconds=0.0))

    plan = plan_cuts(problem)

    assert plan.stopped in ("time", "proven")
    assert faults(problem, plan) == []


@settings(max_examples=60, deadline=None)
@given(problems())
def test_what_is_called_proven_is_the_optimum_of_another_model(problem):
    problem = replace(problem, strict=False, unmet_by_sets=False)
    plan = plan_cuts(problem)
    per_foot = float(problem.unit.per_foot)
    rates = problem.rates

    optimum = best_by_milp(problem, (1 / per_foot, float(rates.whole), float(rates.remnant), float(rates.setup)))

    if optimum is None:
        assert plan.unmet
    elif not plan.unmet:
        assert float(plan.bounds.cost) <= optimum + 1e-6 <= float(plan.cost) + 2e-6
        if plan.stopped == "proven":
            assert float(plan.cost) == pytest.approx(optimum)
        assert float(least_cost(problem)) == pytest.approx(optimum)


@pytest.mark.parametrize("strict", [True, False], ids=["strict order", "rates"])
@pytest.mark.parametrize("name", SHARED)
def test_a_shared_problem_is_cut_in_full_where_it_can_be_with_less_scrap_than_best_fit(name, strict):
    data, problem = shared(name, strict=strict)

    plan = plan_cuts(problem)

    check_plan(problem, plan)
    sheet, best = data["levels"]["spreadsheet"], data["levels"]
    assert problem.unit.feet(plan.levels.unmet_weighted) <= Fraction(str(sheet["unmetWeighted"]))
    if best["unmetFeet"]["best"] == 0:
        assert plan.levels.unmet == 0
        # Bounds never rise above the best plans known.
        assert problem.unit.feet(plan.bounds.scrap) <= Fraction(str(best["scrapFeet"]["best"]))
        assert plan.bounds.whole_reels <= best["wholeReelsOpened"]["best"]
        if sheet["unmetFeet"] == 0:
            # How much less, and whole reels, depend on the clock: see the benchmark.
            assert problem.unit.feet(plan.levels.scrap) <= Fraction(str(sheet["scrapFeet"]))


@pytest.mark.parametrize("name", SHARED)
def test_the_first_greedy_plan_is_the_spreadsheet_method(name):
    data, problem = shared(name)
    core = build_core(problem)

    pieces = best_fit(core, orders(core)[0])

    sheet = data["levels"]["spreadsheet"]
    scrap, whole, _, setups = core.levels(pieces)
    assert (whole, setups) == (sheet["wholeReelsOpened"], sheet["setups"])
    assert float(problem.unit.feet(scrap)) == pytest.approx(sheet["scrapFeet"], abs=1e-4)
    assert float(problem.unit.feet(core.unmet_cost(pieces))) == pytest.approx(sheet["unmetWeighted"], abs=1e-4)


def test_someone_who_watches_can_stop_and_gets_the_best_so_far():
    _, problem = shared("S_reel_tight_20r_34s_306", seconds=60.0)
    seen, plans = [], []

    def progress(stage, elapsed, levels, bounds):
        seen.append((stage, levels, bounds))
        return stage == "re-split"

    plan = plan_cuts(problem, progress, plans.append)

    assert plan.stopped == "asked"
    assert seen[-1][0] == "re-split"
    assert plan.levels == seen[-1][1] == plans[-1].levels
    assert [p.levels.unmet for p in plans] == sorted((p.levels.unmet for p in plans), reverse=True)


def test_a_wish_to_stop_is_heard_though_nothing_was_gained():
    # How soon: `tests/benchmarks/stopping.py`.
    plan = plan_cuts(slow_to_prove(), lambda _stage, elapsed, *_: elapsed > 1.0)

    assert plan.stopped == "asked"


def test_what_a_watcher_raises_inside_the_solver_is_raised():
    def progress(stage, elapsed, levels, bounds):
        if elapsed > 1.0:
            raise RuntimeError("the one who watches is gone")

    with pytest.raises(RuntimeError, match="the one who watches is gone"):
        plan_cuts(slow_to_prove(), progress)


def test_a_plan_of_which_the_clock_ended_one_stage_is_not_called_finished():
    watch = Watch(Limits(seconds=1000.0))
    over = watch.until(0.0)

    assert (over(), watch.over(), watch.clocked) == (True, False, True)


def test_a_stage_left_out_for_want_of_time_is_not_called_finished(monkeypatch):
    monkeypatch.setattr("reels.planner.stages.ROUNDS_EXPECTED", 10**12)
    problem = Problem(
        TENTH_FOOT, (StockReel("A", 61, True), StockReel("B", 95, True)), (Demand("D", 30, 4),), keep=20, strict=True
    )
    monkeypatch.setattr("reels.planner.stages.SMALL", 0)

    assert plan_cuts(replace(problem, limits=Limits(seconds=60.0, tries=2))).stopped == "time"


REPEAT = """
import sys
from fractions import Fraction
from reels.planner.moves import improve
from reels.planner.problem import *
from reels.planner.solve import plan_cuts
improve.SECONDS_EACH = 3600.0
demands = tuple(Demand(f"R{i}", 137 + 61 * i % 190, 2 + i % 4, date_class=1 + i % 3) for i in range(14))
reels = tuple(StockReel(f"W{i}", 1003 + 17 * i, True) for i in range(10))
reels += tuple(StockReel(f"P{i}", 210 + 55 * i, False) for i in range(4))
plan = plan_cuts(Problem(TENTH_FOOT, reels, demands, 80, limits=Limits(seconds=3600.0, tries=12, nodes=200)))
assert plan.stopped != "time"
print(plan.loads, plan.unmet, plan.bounds)
"""


def test_the_same_problem_gives_the_same_plan_in_another_process_with_another_hash_seed():
    one, other = (
        subprocess.run(
            [sys.executable, "-c", REPEAT],
            capture_output=True,
            text=True,
            check=False,
            cwd=Path(__file__).resolve().parents[3],
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        for seed in ("1", "2")
    )

    assert (one.returncode, other.returncode) == (0, 0), one.stderr + other.stderr
    assert one.stdout == other.stdout != ""


def test_a_safety_tail_is_never_planned():
    problem = Problem(TENTH_FOOT, (StockReel("A", 100, True, tail=10),), (Demand("D", 30, 3),), keep=20)

    assert [(load.cuts[0].pieces, load.end, load.end_is) for load in plan_cuts(problem).loads] == [(3, 0, "used up")]


def test_frozen_pieces_stay_on_their_reel_even_where_another_would_be_better():
    reels = (StockReel("good", 60, False), StockReel("poor", 95, True, frozen=(("D", 1),)))
    plan = plan_cuts(Problem(TENTH_FOOT, reels, (Demand("D", 30, 2),), keep=20))

    assert {load.reel: load.cuts[0].pieces for load in plan.loads}["poor"] >= 1
    assert plan.levels.whole_reels == plan.bounds.whole_reels == 1


def test_the_set_ups_of_a_run_with_two_lengths_count_once_per_reel():
    demands = (Demand("A", 40, 1, run_id="run"), Demand("B", 60, 1, run_id="run"))

    assert plan_cuts(Problem(TENTH_FOOT, (StockReel("R", 100, True),), demands, keep=20)).levels.setups == 1


def test_nothing_to_cut_is_a_plan_without_loads():
    plan = plan_cuts(Problem(TENTH_FOOT, (), (), keep=20))

    assert (plan.loads, plan.unmet, plan.stopped) == ((), (), "proven")


def test_every_contradiction_is_named():
    problem = Problem(
        TENTH_FOOT,
        (StockReel("A", 10, True, frozen=(("D", 3),)), StockReel("A", -1, True)),
        (Demand("D", 5, 1), Demand("E", 0, -1)),
        keep=0,
    )

    with pytest.raises(ProblemError) as error:
        plan_cuts(problem)

    assert error.value.problems == [
        "reel A: frozen pieces take 15 of 10 usable units",
        "reel A occurs twice",
        "reel A: length and tail must not be negative",
        "demand D: more pieces frozen than its count",
        "demand E: length must be above 0, got 0",
        "demand E: count must not be negative, got -1",
        "keep length must be above 0, got 0",
    ]


@pytest.mark.parametrize("seed", range(12))
def test_nothing_proven_is_worse_than_the_plan_that_a_large_problem_was_made_from(seed):
    problem, pieces = hidden_problem(random.Random(seed), limits=Limits(seconds=0.4))

    assert faults_beside(problem, plan_cuts(problem), pieces) == []


def test_two_reels_may_hold_more_than_sixty_four_different_lengths():
    demands = tuple(Demand(f"D{number}", 20 + number, 1) for number in range(90))
    reels = tuple(StockReel(f"W{number}", 3010, True) for number in range(2))

    plan = plan_cuts(Problem(TENTH_FOOT, reels, demands, keep=50, limits=Limits(seconds=5.0, tries=5, nodes=200)))

    assert not plan.unmet


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rates": Rates(*[Fraction(10**18)] * 3)}, "the rates are too high, or too finely divided"),
        ({"rates": Rates(setup=Fraction(1, 10**9 + 7))}, "the rates are too high, or too finely divided"),
        ({"reels": (StockReel("A", 10**9 + 1, True),)}, "reel A: length must be at most 1000000000 units"),
        ({"demands": (Demand("D", 30, 10**8),)}, "all lengths needed must be at most 2000000000 units together"),
        ({"demands": (Demand("D", 30, 3, weight=10**17),)}, "all lengths needed times their weights"),
        ({"keep": 10**10}, "keep length must be at most 1000000000 units"),
        ({"buy_lengths": (10**10,)}, "a length to buy must be at most 1000000000 units"),
    ],
)
def test_what_is_too_large_to_be_counted_is_refused(change, message):
    problem = Problem(
        TENTH_FOOT, (StockReel("A", 100, True), StockReel("B", 90, False)), (Demand("D", 30, 3),), keep=20
    )

    with pytest.raises(ProblemError, match=message):
        plan_cuts(replace(problem, **change))


def test_an_accepted_plan_is_held_though_another_would_scrap_less():
    # By itself both pieces would come off B, which they fill; accepted is A, which then ends in 10 of scrap.
    reels = StockReel("A", 70, False), StockReel("B", 60, False)
    free = Problem(TENTH_FOOT, reels, (Demand("D", 30, 2),), keep=20)
    held = replace(free, kept=(Assigned("A", "D", 2),))

    assert [load.reel for load in plan_cuts(free).loads] == ["B"]
    assert [load.reel for load in plan_cuts(held).loads] == ["A"]
