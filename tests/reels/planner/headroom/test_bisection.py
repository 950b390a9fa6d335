"""Headroom: what fits is shown to fit, and what stops it is named."""

from dataclasses import replace

from hypothesis import given, settings

from reels.planner.headroom.bisection import LONGEST, SHORT, TOTAL, Headroom, headroom
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

    assert headroom(problem, plan_cuts(problem)) == (Headroom("D", 0, 0, SHORT),)


@settings(max_examples=60, deadline=None)
@given(problems())
def test_headroom_fits_and_one_more_than_its_bound_never_does(problem):
    plan = plan_cuts(problem)

    def fits(name, more):
        longer = [replace(d, length=d.length + more) if d.set_key == name else d for d in problem.demands]
        found = best_by_listing(replace(problem, demands=tuple(longer)), lambda _: 0, lambda a, b: 0)
        return tuple(0 for _ in problem.demands) in found

    for room in headroom(problem, plan):
        if not plan.unmet and room.bottleneck != "frozen":
            assert fits(room.name, room.more)
            assert not fits(room.name, room.at_most + 1)
