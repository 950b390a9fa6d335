"""Short cable: which sets stay incomplete, what to buy, and what an accepted plan keeps."""

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings

from reels.planner.check import check_plan
from reels.planner.plan import Purchase
from reels.planner.problem import MILLIMETRE, TENTH_FOOT, Assigned, Demand, Limits, Problem, StockReel
from reels.planner.short.buying import purchases
from reels.planner.solve import plan_cuts
from tests.reels.planner.generate import problems, random_problem
from tests.reels.planner.reference import best_by_listing, missing_levels
from tests.reels.planner.slow import many_on_a_fine_grid, one_more_reel, too_long_for_sale

LIMITS = Limits(seconds=5.0, tries=10, nodes=500)


def whole(*lengths):
    return tuple(StockReel(f"W{number}", length, True) for number, length in enumerate(lengths))


def test_an_earlier_set_is_completed_before_later_ones_however_many_those_are():
    demands = (
        Demand("early", 50, 2, date_class=1),
        Demand("late1", 20, 2, date_class=2),
        Demand("late2", 25, 2, date_class=2),
    )

    plan = plan_cuts(Problem(TENTH_FOOT, whole(100), demands, keep=5, limits=LIMITS))

    assert plan.levels.sets_incomplete == (0, 2) == plan.bounds.sets_incomplete


def test_of_one_date_the_most_sets_are_completed_then_the_most_feet_cut():
    demands = (Demand("long", 90, 1), Demand("a", 30, 1), Demand("b", 30, 1), Demand("c", 20, 2))

    plan = plan_cuts(Problem(TENTH_FOOT, whole(100), demands, keep=5, limits=LIMITS))

    assert plan.levels.sets_incomplete == (1,)
    assert [(piece.demand, piece.pieces) for piece in plan.unmet] == [("long", 1)]


def test_several_lengths_of_one_set_are_completed_together_or_not_at_all():
    demands = (
        Demand("A1", 60, 1, set_id="A", run_id="run"),
        Demand("A2", 50, 1, set_id="A", run_id="run"),
        Demand("B", 55, 1, set_id="B", run_id="run"),
    )

    plan = plan_cuts(Problem(TENTH_FOOT, whole(60, 55), demands, keep=5, limits=LIMITS))

    assert plan.levels.sets_incomplete == (1,)


def test_a_bare_file_gives_up_the_least_weighted_length():
    demands = (Demand("cheap", 60, 1, weight=1), Demand("dear", 40, 1, weight=16))
    problem = Problem(TENTH_FOOT, whole(60), demands, keep=5, unmet_by_sets=False, limits=LIMITS)

    assert [piece.demand for piece in plan_cuts(problem).unmet] == ["cheap"]


@settings(max_examples=80, deadline=None)
@given(problems())
def test_a_small_problem_leaves_the_fewest_sets_incomplete_then_the_fewest_feet_uncut(problem):
    assert faults_of_short(replace(problem, unmet_by_sets=True)) == []


@settings(max_examples=40, deadline=None)
@given(problems())
def test_a_small_bare_problem_leaves_the_least_weighted_length_uncut(problem):
    assert faults_of_short(replace(problem, unmet_by_sets=False)) == []


@pytest.mark.parametrize("seed", [2, 10, 90])
def test_no_feet_stay_uncut_that_another_choice_of_pieces_would_cut(seed):
    assert faults_of_short(replace(random_problem(random.Random(seed)), unmet_by_sets=True)) == []


def faults_of_short(problem):
    plan = plan_cuts(problem)
    states = best_by_listing(problem, lambda _: 0, lambda a, b: 0)
    losses = [missing_levels(problem, missing) for missing in states]
    sets, feet = min((sets, feet) for sets, _, feet in losses)
    levels, bounds = plan.levels, plan.bounds
    if not problem.unmet_by_sets:
        least = min(weighted for _, weighted, _ in losses)
        return [] if levels.unmet_weighted == least == bounds.unmet_weighted else [(levels, bounds, least)]
    proven = bounds.sets_incomplete == sets and bounds.unmet == min(feet for *_, feet in losses)
    return [] if (levels.sets_incomplete, levels.unmet) == (sets, feet) and proven else [(levels, bounds, sets, feet)]


def test_a_run_of_three_pieces_is_not_given_up_where_a_shorter_one_is_enough():
    reels = (
        StockReel("A", 360671, True, frozen=(("long", 1),)),
        StockReel("B", 794263, True),
        StockReel("C", 297411, False, 60000),
    )
    demands = (
        Demand("middle", 139999, 1, date_class=3),
        Demand("long", 339999, 3, date_class=3),
        Demand("first", 100000, 1, date_class=1),
        Demand("small", 60001, 3, date_class=2),
    )

    plan = plan_cuts(Problem(MILLIMETRE, reels, demands, keep=1, limits=LIMITS))

    assert [(piece.demand, piece.pieces) for piece in plan.unmet] == [("middle", 1)]


def test_more_time_never_leaves_more_uncut_and_watching_changes_nothing():
    quick, slow = (plan_cuts(seventeen_pieces(seconds)) for seconds in (0.05, 2.0))
    watched = plan_cuts(seventeen_pieces(2.0), lambda *_: False)

    assert rank(slow) <= rank(quick)
    assert rank(slow) == rank(watched)


def rank(plan):
    return plan.levels.sets_incomplete, plan.levels.unmet


def seventeen_pieces(seconds):
    lengths = (2447, 10000, 5000, 1862, 2844, 5000, 5000, 5000)
    pieces = ((1445, 3, 1), (2181, 5, 2), (536, 2, 3), (1232, 6, 1), (2339, 4, 2), (2425, 2, 3))
    return Problem(
        TENTH_FOOT,
        tuple(StockReel(f"R{number}", length, length in (5000, 10000)) for number, length in enumerate(lengths)),
        tuple(
            Demand(f"D{number}", length, count, set_id=f"S{number // 2}", date_class=date_class)
            for number, (length, count, date_class) in enumerate(pieces)
        ),
        keep=300,
        limits=Limits(seconds=seconds, tries=30),
    )


def test_the_least_that_can_be_bought_is_bought_and_the_loads_show_that_it_is_enough():
    problem = Problem(TENTH_FOOT, whole(100), (Demand("D", 30, 9),), keep=20, buy_lengths=(50, 100, 150), limits=LIMITS)

    plan = plan_cuts(problem)

    # Six pieces of 30 are missing: 180; 200 is the least total above it, as 100 + 100 (three each).
    assert plan.buy_bound == 200
    assert [(item.length, item.count) for item in plan.buy] == [(150, 1), (50, 1)] or sum(
        item.length * item.count for item in plan.buy
    ) == 200
    check_plan(problem, plan)


def test_without_time_the_longest_reels_are_bought_until_all_can_be_cut():
    limits = Limits(seconds=0.0)
    problem = Problem(TENTH_FOOT, whole(10), (Demand("D", 60, 5),), keep=20, buy_lengths=(50, 100), limits=limits)

    plan = plan_cuts(problem)

    assert plan.stopped == "time"
    assert [(item.length, item.count) for item in plan.buy] == [(100, 5)]


@pytest.fixture
def short():
    return one_more_reel(LIMITS)


def test_a_planner_that_was_stopped_still_looks_for_a_cheap_purchase(short):
    plan = plan_cuts(short, lambda *_: True)

    assert (plan.stopped, plan.buy, plan.buy_bound) == ("asked", (Purchase(50, 1),), 50)
    check_plan(short, plan)


def test_buying_after_a_stop_is_bounded(short, monkeypatch):
    # A purchase that never works, so that only the clock ends the search for one.
    monkeypatch.setattr("reels.planner.short.buying._try", lambda problem, *_: (problem, None))
    monkeypatch.setattr("reels.planner.short.buying.MOST_REELS", 10**9)
    plan = plan_cuts(replace(short, limits=Limits(seconds=60)), lambda *_: True)

    assert plan.buy


def test_out_of_time_no_reel_is_longer_than_its_pieces_need():
    limits = Limits(seconds=0.0)
    demands = (Demand("long", 140, 1), Demand("short", 40, 1))
    problem = Problem(TENTH_FOOT, whole(10), demands, keep=20, buy_lengths=(50, 150), limits=limits)

    plan = plan_cuts(problem)

    assert plan.buy == (Purchase(150, 1), Purchase(50, 1))
    check_plan(problem, plan)


def test_a_length_that_no_reel_for_sale_can_hold_leads_to_no_purchase():
    problem = Problem(TENTH_FOOT, whole(100), (Demand("D", 300, 1),), keep=20, buy_lengths=(200,), limits=LIMITS)

    plan = plan_cuts(problem)

    assert (plan.buy, plan.buy_bound) == ((), None)
    check_plan(problem, plan)


def test_nothing_is_bought_where_no_reel_for_sale_can_hold_a_piece_that_has_no_reel():
    plan = plan_cuts(too_long_for_sale())

    assert (plan.buy, plan.buy_bound) == ((), None)


def test_buying_on_a_fine_grid_hears_the_clock_and_says_so():
    plan = plan_cuts(many_on_a_fine_grid())

    assert plan.stopped == "time"
    assert sum(item.length * item.count for item in plan.buy) == 99 * 603_565 + 301_782
    assert plan.buy_bound <= 99 * 603_565 + 301_782


def test_a_purchase_made_because_time_was_up_is_not_called_finished(monkeypatch):
    monkeypatch.setattr("reels.planner.short.buying._try", lambda problem, *_: (problem, None))
    monkeypatch.setattr("reels.planner.short.buying.MOST_REELS", 10**9)
    problem = Problem(TENTH_FOOT, whole(100), (Demand("D", 30, 4),), keep=20, buy_lengths=(50,), limits=LIMITS)

    plan = plan_cuts(replace(problem, limits=Limits(seconds=1.0)))

    assert (plan.stopped, plan.buy) == ("time", (Purchase(50, 1),))


def test_a_reel_to_buy_never_takes_the_name_of_a_reel_on_hand():
    reels = (StockReel("buy 1000 #1", 700, False),)
    demands = (Demand("A", 600, 1), Demand("B", 900, 2))
    problem = Problem(TENTH_FOOT, reels, demands, keep=100, buy_lengths=(1000,), limits=LIMITS)

    plan = plan_cuts(problem)

    assert [load.reel for load in plan.after_buying] == ["buy 1000 #1", "buy 1000 #2", "buy 1000 #3"]


def test_a_piece_that_is_frozen_on_a_reel_on_hand_need_not_fit_a_reel_to_buy():
    reels = (StockReel("A", 300, True, frozen=(("long", 1),)),)
    demands = (Demand("long", 290, 1), Demand("D", 40, 1))
    problem = Problem(TENTH_FOOT, reels, demands, keep=20, buy_lengths=(50,), limits=LIMITS)

    assert plan_cuts(problem).buy == (Purchase(50, 1),)


def test_purchases_come_by_total_with_the_longest_reels_of_each():
    found = purchases([500, 1000, 2500], 1200)

    assert [next(found) for _ in range(4)] == [(1000, 500), (1000, 1000), (2500,), (2500, 500)]


@pytest.fixture
def accepted():
    """A plan with room to spare that a free planner would make differently."""
    demands = (Demand("A", 30, 2), Demand("B", 20, 2))
    kept = (Assigned("W0", "A", 1), Assigned("W1", "A", 1), Assigned("W0", "B", 1), Assigned("W1", "B", 1))
    return Problem(TENTH_FOOT, whole(100, 100, 100), demands, keep=20, kept=kept, limits=LIMITS)


def assigned(plan):
    return {(load.reel, cut.demand, cut.pieces) for load in plan.loads for cut in load.cuts}


def test_planning_again_without_a_change_changes_nothing(accepted):
    assert assigned(plan_cuts(accepted)) == {(each.reel, each.demand, each.pieces) for each in accepted.kept}


def test_a_new_run_is_added_to_what_was_accepted(accepted):
    plan = plan_cuts(replace(accepted, demands=(*accepted.demands, Demand("C", 90, 1))))

    assert {(each.reel, each.demand, each.pieces) for each in accepted.kept} < assigned(plan)
    assert plan.unmet == ()


def test_only_as_many_reels_are_let_go_as_it_takes_to_cut_more(accepted):
    plan = plan_cuts(replace(accepted, reels=accepted.reels[:2], demands=(*accepted.demands, Demand("C", 70, 1))))

    assert plan.unmet == ()
    check_plan(replace(accepted, reels=accepted.reels[:2], demands=(*accepted.demands, Demand("C", 70, 1))), plan)


def test_kept_pieces_of_a_reel_or_run_that_is_gone_are_planned_anew(accepted):
    plan = plan_cuts(replace(accepted, reels=accepted.reels[1:], demands=accepted.demands[:1]))

    # The piece kept on W1 stays, the one that was on the lost reel joins it.
    assert assigned(plan) == {("W1", "A", 2)}


def test_as_few_pieces_as_it_takes_are_moved():
    kept = (("R0", "A", 1), ("R0", "B", 2), ("R1", "C", 2), ("R2", "B", 1), ("R3", "A", 2))
    problem = Problem(
        TENTH_FOOT,
        tuple(StockReel(f"R{number}", length, True) for number, length in enumerate((148, 129, 102, 79))),
        (Demand("A", 45, 3), Demand("B", 54, 3, date_class=2), Demand("C", 56, 2)),
        keep=20,
        kept=tuple(Assigned(*each) for each in kept),
        limits=LIMITS,
    )

    plan = plan_cuts(problem)

    assert not plan.unmet
    assert stayed(problem, plan) == 5


def test_a_reel_that_need_not_have_been_let_go_is_held_again(monkeypatch):
    # Too large to be solved exactly, so whole reels are let go, those with most room first; only the last one helps.
    monkeypatch.setattr("reels.planner.solve.is_small", lambda *_: False)
    kept = (*(Assigned(f"W{number}", "A", 1) for number in range(3)), Assigned("tight", "B", 2))
    demands = (Demand("A", 60, 3), Demand("B", 35, 2), Demand("C", 70, 1))
    reels = (*whole(100, 100, 100), StockReel("tight", 100, True))

    problem = Problem(TENTH_FOOT, reels, demands, keep=20, kept=kept, limits=LIMITS)
    plan = plan_cuts(problem)

    assert not plan.unmet
    assert stayed(problem, plan) == 3


def stayed(problem, plan):
    cut = {(load.reel, piece.demand): piece.pieces for load in plan.loads for piece in load.cuts}
    return sum(min(each.pieces, cut.get((each.reel, each.demand), 0)) for each in problem.kept)
