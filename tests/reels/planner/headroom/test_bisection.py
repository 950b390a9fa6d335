"""Headroom: what fits is shown to fit, and what stops it is named."""

from dataclasses import replace

from hypothesis import given, settings

from reels.planner.headroom.bisection import LONGEST, SHORT, TOTAL, cable_headroom, headroom
from reels.planner.problem import TENTH_FOOT, Demand, Limits, Problem, StockReel
from reels.planner.solve import plan_cuts
from tests.reels.planner.generate import problems
from tests.reels.planner.reference import best_by_listing

LIMITS = Limits(seconds=20.0, tries=5)


def test_a_run_alone_on_a_reel_can_grow_by_its_share_of_the_end():
    problem = Problem(TENTH_FOOT, (StockReel("A", 100, True),), (Demand("D", 30, 3),), keep=5, limits=LIMITS)

    (room,) = headroom(problem, plan_cuts(problem))

    assert (room.name, room.more, room.at_most, room.bottleneck) == ("D", 3, 3, TOTAL)


def test_one_piece_cannot_outgrow_the_longest_reel():
    reels = (StockReel("A", 100, True), StockReel("B", 90, True))
    problem = Problem(TENTH_FOOT, reels, (Demand("D", 30, 1), Demand("E", 20, 1)), keep=5, limits=LIMITS)

    room = headroom(problem, plan_cuts(problem), sets=("D",))[0]

    assert (room.more, room.bottleneck) == (70, LONGEST)


def test_the_reel_that_stops_a_run_is_named():
    reels = (StockReel("A", 50, True), StockReel("B", 50, True))
    problem = Problem(TENTH_FOOT, reels, (Demand("D", 30, 2), Demand("E", 12, 2)), keep=5, limits=LIMITS)

    room = headroom(problem, plan_cuts(problem), sets=("E",))[0]

    assert (room.more, room.at_most, room.bottleneck) == (8, 8, TOTAL)
    problem = replace(problem, demands=(Demand("D", 30, 2), Demand("E", 12, 1)))
    room = headroom(problem, plan_cuts(problem), sets=("E",))[0]
    assert (room.more, room.at_most, room.bottleneck in ("A", "B")) == (8, 28, True)


def test_a_short_cable_has_no_headroom():
    problem = Problem(TENTH_FOOT, (StockReel("A", 50, True),), (Demand("D", 30, 2),), keep=5, limits=LIMITS)

    assert cable_headroom(problem, plan_cuts(problem)) == headroom(problem, plan_cuts(problem))[0].__class__(
        "", 0, 0, SHORT
    )


@settings(max_examples=60, deadline=None)
@given(problems())
def test_headroom_fits_and_one_more_than_its_bound_never_does(problem):
    plan = plan_cuts(problem)
    room = cable_headroom(problem, plan)
    if plan.unmet or room.bottleneck == "frozen":
        return

    def fits(more):
        longer = replace(problem, demands=tuple(replace(d, length=d.length + more) for d in problem.demands))
        return tuple(0 for _ in problem.demands) in best_by_listing(longer, lambda _: 0, lambda a, b: 0)

    assert fits(room.more)
    assert not fits(room.at_most + 1)
