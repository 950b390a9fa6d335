"""The problem as arrays, and what a matrix of pieces costs; worked by hand."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from reels.planner.area import fewest_setups, fewest_whole, holdings, least_unmet, pieces_that_fit
from reels.planner.assemble import assemble, pieces_of
from reels.planner.bounds import ProvenBounds, least_incomplete
from reels.planner.core import STRICT_WEIGHTS, build_core, cost_weights, rate_weights
from reels.planner.plan import Bounds, Levels, Pieces, ReelLoad
from reels.planner.problem import TENTH_FOOT, Demand, Problem, Rates, StockReel
from reels.planner.ranking import Ranking
from reels.planner.state import Draft

# Usable: A 100 less a frozen 30, B 40, C 50 less a tail of 3. Run r has D and E, F is its own run and set.
PROBLEM = Problem(
    TENTH_FOOT,
    (
        StockReel("A", 100, True, frozen=(("D", 1),)),
        StockReel("B", 40, False),
        StockReel("C", 50, True, tail=3),
        StockReel("E", 60, True),
    ),
    (
        Demand("D", 30, 4, set_id="s", run_id="r", date_class=2),
        Demand("E", 10, 2, set_id="s", run_id="r", date_class=1, weight=3),
        Demand("F", 45, 1, date_class=3),
    ),
    keep=20,
)
CORE = build_core(PROBLEM)
# A: one D more, 40 left. B: one D and one E, 0 left. C: one F, 2 left. E: nothing.
MATRIX = np.array([[1, 0, 0], [1, 1, 0], [0, 0, 1], [0, 0, 0]])


def test_frozen_pieces_are_taken_off_reels_and_demands():
    assert CORE.capacity.tolist() == [70, 40, 47, 60]
    assert CORE.counts.tolist() == [3, 2, 1]
    assert (CORE.whole.tolist(), CORE.started.tolist()) == ([False, False, True, True], [True, False, False, False])
    assert CORE.runs.tolist() == [0, 0, 1]
    assert CORE.frozen_runs == (frozenset({0}), frozenset(), frozenset(), frozenset())
    assert CORE.penalty.tolist() == [30, 30, 45]


def test_levels_count_what_is_cut_and_nothing_else():
    # Scrap: the 2 of C. Whole: C. Remnants: A's 40. Set-ups: r on B, F on C; on A run r is set up by its frozen piece.
    assert CORE.levels(MATRIX) == (2, 1, 1, 2)
    assert CORE.unmet_cost(MATRIX) == 1 * 30 + 1 * 30
    # 10 ft a whole reel, 2 a remnant, 0.2 a set-up, in tenths of a foot: 100, 20 and 2 beside a scrap of 1.
    assert rate_weights(PROBLEM) == ((1, 100, 20, 2), 1)
    assert CORE.rank(MATRIX) == (60, 2 + 100 + 20 + 4, 2, 1, 1, 2)
    strict = replace(PROBLEM, strict=True)
    assert cost_weights(strict) == (STRICT_WEIGHTS, STRICT_WEIGHTS[0])
    assert build_core(strict).rank(MATRIX) == (60, 2, 1, 1, 2)
    thirds = replace(PROBLEM, rates=Rates(Fraction(1), Fraction(1, 3), Fraction(1, 7)))
    assert rate_weights(thirds) == ((21, 210, 70, 30), 21)


def test_the_cost_of_each_reel_adds_up_to_that_of_the_plan():
    costs = [CORE.reel_cost(reel, row) for reel, row in enumerate(MATRIX)]
    assert costs == [20, 0 + 2, 2 + 100 + 2, 0], "an untouched reel costs nothing, a started one its end"
    assert CORE.end_cost(np.array([0, 19, 20])).tolist() == [0, 19, 20]
    assert CORE.reel_cost(0, np.array([0, 0, 0])) == 20, "frozen pieces leave a remnant of 70"
    assert CORE.reel_cost(3, np.array([1, 0, 0])) == 20 + 100 + 2


def test_reels_left_out_give_nothing_but_what_is_frozen():
    only = CORE.only(np.array([False, False, True, False]))
    assert only.capacity.tolist() == [70, 0, 47, 0]
    assert CORE.with_penalty(np.array([1, 2, 3])).penalty.tolist() == [1, 2, 3]


def test_a_draft_keeps_what_every_step_asks():
    draft = Draft(CORE, MATRIX)
    assert (draft.left.tolist(), draft.missing.tolist()) == ([40, 0, 2, 60], [1, 1, 0])
    assert draft.used.tolist() == [True, True, True, False]
    draft.put(3, np.array([1, 1, 0]))
    assert (draft.left.tolist(), draft.missing.tolist()) == ([40, 0, 2, 20], [0, 0, 0])
    assert (draft.cost[3], draft.stamp) == (CORE.reel_cost(3, draft.pieces[3]), [0, 0, 0, 1])
    assert draft.rank() == CORE.rank(draft.pieces)
    assert MATRIX[3].sum() == 0, "the matrix that was given stays"


def test_a_reel_holds_no_more_than_the_greatest_sum_of_pieces():
    held = holdings(CORE)
    # 70: 30 + 30 + 10. 40: 30 + 10. 47: 45. 60: 30 + 30 or 45 + 10.
    assert (held.holds.tolist(), held.total) == ([70, 40, 45, 60], 215)
    assert fewest_whole(CORE, held, 110) == 0
    assert fewest_whole(CORE, held, 111) == 1
    assert fewest_whole(CORE, held, 171) == 2
    assert fewest_whole(CORE, held, 999) == 2
    assert [pieces_that_fit(CORE, length) for length in (30, 45, 71)] == [2 + 1 + 1 + 2, 1 + 0 + 1 + 1, 0]
    few = build_core(replace(PROBLEM, reels=(StockReel("A", 40, True),), demands=(Demand("E", 10, 3),)))
    assert holdings(few).holds.tolist() == [30], "no more pieces than are needed"
    empty = build_core(replace(PROBLEM, reels=(StockReel("A", 0, True),)))
    assert holdings(empty).holds.tolist() == [0]


def test_what_cannot_be_held_stays_uncut_the_cheapest_first():
    small = build_core(replace(PROBLEM, reels=(StockReel("A", 70, True),)))
    held = holdings(small)
    assert held.total == 70
    # Four D are needed, two fit; F fits once. Two D lost; of 60 + 20 + 45 another 55 stay: F's 45 and 10 of D at 1.
    worth = np.array([1, 3, 1])
    assert least_unmet(small, held, worth) == 2 * 30 + 55
    # At 1, 2 and 3: 55 of D at 1.
    assert least_unmet(small, held, np.array([1, 2, 3])) == 2 * 30 + 55
    # At 3, 1 and 2: two D are lost at 3; then 20 of E at 1 and 35 of F at 2.
    assert least_unmet(small, held, np.array([3, 1, 2])) == 2 * 30 * 3 + 20 + 70
    long = build_core(replace(PROBLEM, reels=(StockReel("A", 40, True),)))
    assert least_unmet(long, holdings(long), worth) == 45 + 3 * 30 + 10, "F is longer than the reel"


def test_each_run_is_set_up_on_as_many_reels_as_its_pieces_need():
    # Run r is set up on A anyway; F needs one reel.
    assert fewest_setups(CORE) == 1
    free = build_core(
        replace(PROBLEM, reels=(StockReel("B", 40, False), StockReel("C", 65, True), StockReel("E", 30, True)))
    )
    # Four D: two on C, one on B, one on E.
    assert fewest_setups(free) == 3 + 1
    none = build_core(replace(PROBLEM, demands=(Demand("D", 30, 1, run_id="r"),)))
    assert fewest_setups(none) == 0, "all that is needed is frozen"


def test_plans_are_ranked_by_sets_of_each_date_then_by_length():
    ranking = Ranking(PROBLEM, CORE)
    assert PROBLEM.set_classes == {"s": 1, "F": 3}
    assert PROBLEM.date_classes == (1, 2, 3)
    assert ranking.complete(MATRIX) == ["F"]
    assert ranking.short(MATRIX) == ((1, 0, 0), 40)
    assert Ranking(replace(PROBLEM, unmet_by_sets=False), CORE).short(MATRIX) == (60,)
    assert ranking.of(MATRIX) == ((1, 0, 0), 40, *CORE.rank(MATRIX)[1:])
    assert ranking.levels(MATRIX) == Levels((1, 0, 0), 60, 40, 2, 2, 1, 3), "what is frozen counts"


def test_a_matrix_becomes_loads_in_the_order_to_cut_them():
    plan = assemble(PROBLEM, MATRIX, Bounds(), "finished", 1.5)
    assert plan.loads == (
        ReelLoad("A", (Pieces("D", 2),), 40, "remnant"),
        ReelLoad("B", (Pieces("E", 1), Pieces("D", 1)), 0, "used up"),
        ReelLoad("C", (Pieces("F", 1),), 2, "scrap"),
    )
    assert plan.unmet == (Pieces("D", 1), Pieces("E", 1))
    # 0.2 ft of scrap, two whole reels, a remnant, three set-ups.
    assert plan.cost == Fraction("0.2") + 20 + 2 + Fraction("0.6")
    assert (plan.stopped, plan.seconds, plan.gap) == ("finished", 1.5, None)
    assert (pieces_of(PROBLEM, plan.loads) == MATRIX).all()
    ends = {PROBLEM.keep: "remnant", PROBLEM.keep - 1: "scrap"}
    for end, told in ends.items():
        reel = replace(PROBLEM, reels=(StockReel("B", 30 + end, False),))
        assert assemble(reel, np.array([[1, 0, 0]]), Bounds(), "finished", 0.0).loads[0].end_is == told


def test_a_plan_knows_how_far_it_is_from_its_bounds():
    plan = assemble(PROBLEM, MATRIX, Bounds(scrap=2, setups=2, cost=Fraction(20)), "finished", 0.0)
    assert plan.gap == plan.cost - 20
    assert replace(plan, bounds=Bounds(cost=plan.cost + 1)).gap == 0
    proven = [name for name, holds in plan.proven.items() if holds]
    assert proven == ["scrap"]


def test_the_fewest_incomplete_sets_are_counted_class_by_class():
    demands = (
        Demand("A", 30, 1, date_class=1), Demand("B", 20, 1, date_class=1), Demand("C", 10, 1, date_class=2),
        Demand("D", 200, 1, date_class=2), Demand("E", 200, 0, date_class=2),
    )  # fmt: skip
    problem = replace(PROBLEM, reels=(StockReel("R", 100, True),), demands=demands)
    core = build_core(problem)
    assert least_incomplete(problem, core, 60) == (0, 1), "D is longer than the reel, E is not needed"
    assert least_incomplete(problem, core, 50) == (0, 2)
    assert least_incomplete(problem, core, 49) == (1, 1)
    assert least_incomplete(problem, core, 0) == (2, 2)


def test_bounds_are_rounded_up_after_a_little_for_noise():
    proof = ProvenBounds(PROBLEM, CORE)
    # All 155 still needed fit on what is opened or no whole reel up to 110: one whole reel and the frozen one.
    assert (proof.needed, proof.whole_reels, proof.setups) == (155, 2, 2)
    assert (proof.unmet, proof.sets) == (0, (0, 0, 0))
    proof.scrap_at_least(1.9999)
    assert proof.scrap == 2
    proof.scrap_at_least(2.00005)
    assert proof.scrap == 2
    proof.scrap_at_least(0.5)
    assert proof.scrap == 2
    proof.cost_at_least(150.0)
    # 150 of scrap, 100 for the frozen reel and 2 for its set-up are 252 tenths of a foot.
    assert proof.cost == Fraction("25.2")


def test_a_bound_given_the_levels_before_counts_only_for_plans_that_keep_to_them():
    strict = replace(PROBLEM, strict=True)
    proof = ProvenBounds(strict, build_core(strict))
    done = np.array([[1, 0, 0], [1, 1, 0], [0, 0, 1], [1, 1, 0]])
    proof.least_given((2,), 2.0)
    plan = assemble(strict, done, Bounds(), "finished", 0.0)
    assert plan.levels.scrap == 2
    assert proof.attach(plan).bounds.whole_reels == 3, "two, and the frozen one"
    worse = replace(plan, levels=replace(plan.levels, scrap=3))
    assert proof.attach(worse).bounds.whole_reels == 2
    assert proof.attach(plan).bounds.cost is None
    proof.least_given((2, 2), 5.0)
    assert plan.levels.whole_reels == 3
    assert proof.attach(plan).bounds.remnants == 5, "two whole reels and the frozen one are within the cap"
    assert proof.attach(replace(plan, levels=replace(plan.levels, scrap=3))).bounds.remnants == 0
    assert proof.attach(replace(plan, levels=replace(plan.levels, whole_reels=4))).bounds.remnants == 0
    open_ = replace(plan, levels=replace(plan.levels, unmet=10))
    assert (proof.attach(open_).bounds.scrap, proof.settled(open_)) == (None, False)


@pytest.mark.parametrize(("by_sets", "rank"), [(True, ((1, 0, 0), 5)), (False, (7,))])
def test_what_stays_uncut_is_bounded_in_the_order_of_the_problem(by_sets, rank):
    problem = replace(PROBLEM, unmet_by_sets=by_sets)
    proof = ProvenBounds(problem, CORE)
    proof.sets, proof.unmet, proof.unmet_weighted = (1, 0, 0), 5, 7
    assert (proof.short_rank, proof.short_levels) == (rank, ((1, 0, 0), 5, 7))
    proof.least_short = (9,)
    assert proof.short_rank == (9,)
