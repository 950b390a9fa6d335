"""Every way a cut plan can be wrong is found by the check."""

from dataclasses import replace
from fractions import Fraction

import pytest

from reels.planner.check import PlanWrong, check_plan
from reels.planner.plan import Bounds, Levels, Pieces, Plan, Purchase, ReelLoad
from reels.planner.problem import TENTH_FOOT, Demand, Problem, StockReel

PROBLEM = Problem(
    TENTH_FOOT,
    (StockReel("A", 100, True, frozen=(("D", 1),)), StockReel("B", 40, False)),
    (Demand("D", 30, 4), Demand("E", 10, 1)),
    keep=20,
    buy_lengths=(50,),
)
GOOD = Plan(
    loads=(
        ReelLoad("A", (Pieces("D", 3),), 10, "scrap"),
        ReelLoad("B", (Pieces("E", 1),), 30, "remnant"),
    ),
    unmet=(Pieces("D", 1),),
    levels=Levels((1,), 30, 30, 10, 1, 1, 2),
    bounds=Bounds(unmet=0),
    cost=Fraction("13.4"),
)


BOUGHT = {
    "buy": (Purchase(50, 1),),
    "buy_bound": 50,
    "after_buying": (*GOOD.loads, ReelLoad("buy 50 #1", (Pieces("D", 1),), 20, "remnant")),
}


def test_a_right_plan_passes():
    check_plan(PROBLEM, GOOD)
    check_plan(PROBLEM, replace(GOOD, **BOUGHT))


def test_a_plan_that_cuts_everything_needs_bounds_to_be_called_proven():
    problem = replace(PROBLEM, demands=(Demand("D", 30, 3), Demand("E", 10, 1)))
    whole = replace(GOOD, unmet=(), levels=replace(GOOD.levels, sets_incomplete=(0,), unmet_weighted=0, unmet=0))
    check_plan(problem, replace(whole, bounds=Bounds(cost=whole.cost), stopped="proven"))
    strict = replace(whole, bounds=Bounds(scrap=10, whole_reels=1, remnants=1, setups=2), stopped="proven")
    check_plan(replace(problem, strict=True), strict)

    for order, bounds, fault in (
        (False, Bounds(cost=whole.cost - 1), "called proven"),
        (True, replace(strict.bounds, setups=1), "called proven"),
        (True, replace(strict.bounds, cost=Fraction(0)), "a bound on cost"),
    ):
        with pytest.raises(PlanWrong, match=fault):
            check_plan(replace(problem, strict=order), replace(strict, bounds=bounds))


def test_a_plan_that_cuts_everything_buys_nothing():
    problem = replace(PROBLEM, demands=(Demand("D", 30, 3), Demand("E", 10, 1)))
    whole = replace(GOOD, unmet=(), levels=replace(GOOD.levels, sets_incomplete=(0,), unmet_weighted=0, unmet=0))

    with pytest.raises(PlanWrong, match="reels are bought, and everything is cut"):
        check_plan(problem, replace(whole, **BOUGHT))


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"loads": (*GOOD.loads, ReelLoad("C", (), 0, "used up"))}, "there is no reel C"),
        ({"loads": (*GOOD.loads, GOOD.loads[0])}, "reel A is loaded twice"),
        ({"loads": (replace(GOOD.loads[0], cuts=(Pieces("D", 4),)), GOOD.loads[1])}, "reel A is overdrawn by 20"),
        ({"loads": (replace(GOOD.loads[0], end=11), GOOD.loads[1])}, "reel A ends in 10 scrap, the plan says 11 scrap"),
        ({"loads": (replace(GOOD.loads[0], cuts=(Pieces("X", 1),)), GOOD.loads[1])}, "reel A: 1 pieces of X"),
        ({"loads": GOOD.loads[1:]}, "reel A lacks frozen pieces of D"),
        ({"unmet": ()}, "demand D: 3 cut and 0 unmet of 4 pieces"),
        ({"unmet": (Pieces("D", 1), Pieces("Z", 1))}, "unmet pieces of unknown demand Z"),
        ({"levels": replace(GOOD.levels, setups=3)}, "the levels are"),
        ({"cost": Fraction(13)}, "the cost is"),
        ({"bounds": Bounds(scrap=11)}, "bound on scrap is 11, above 10"),
        ({"bounds": Bounds(scrap=10)}, "there is a bound on scrap, and not everything is cut"),
        ({"bounds": Bounds(sets_incomplete=(2,))}, "bound on sets_incomplete"),
        ({"bounds": Bounds(sets_incomplete=())}, "bound on sets_incomplete is () for 1 date classes"),
        ({"bounds": Bounds(unmet=-1)}, "bound on unmet is -1, below zero"),
        ({"bounds": Bounds(sets_incomplete=(-1,))}, "bound on sets_incomplete is (-1,), below zero"),
        ({"bounds": Bounds(cost=Fraction(14))}, "bound on cost"),
        ({"stopped": "proven"}, "it is called proven, and its bounds do not show that"),
        ({"stopped": "tired"}, "stopped is 'tired'"),
        ({"seconds": -1.0}, "it took -1.0 seconds"),
        ({"loads": (*GOOD.loads[:1], ReelLoad("B", (), 40, "remnant"))}, "reel B is loaded with nothing"),
        ({"loads": GOOD.loads[::-1]}, "the loads are not in the order of the reels"),
        ({"loads": (replace(GOOD.loads[0], cuts=(Pieces("D", 3.0),)), GOOD.loads[1])}, "reel A: 3.0 pieces of D"),
        (
            {"loads": (replace(GOOD.loads[0], cuts=(Pieces("D", 2), Pieces("D", 1))), GOOD.loads[1])},
            "reel A: D is named 2 times",
        ),
        ({"buy_bound": 50}, "nothing is bought, and there are loads after buying or a bound on the purchase"),
        ({"after_buying": GOOD.loads}, "nothing is bought, and there are loads after buying"),
        ({**BOUGHT, "buy": (Purchase(50, 1), Purchase(50, 1))}, "a length to buy is named twice"),
        ({**BOUGHT, "buy": (Purchase(50, 2),)}, "reel buy 50 #2 is bought and not cut"),
        ({**BOUGHT, "buy_bound": -5}, "bound on the purchase is -5"),
        ({"buy": (Purchase(60, 1),)}, "reels of 60 cannot be bought"),
        ({"buy": (Purchase(50, 1),)}, "after buying, 0 of 4 pieces of D are cut"),
        ({"buy": (Purchase(50, 1),), "buy_bound": 60}, "bound on the purchase is 60, above 50"),
    ],
)
def test_a_wrong_plan_is_refused_with_its_fault(change, fault):
    with pytest.raises(PlanWrong) as error:
        check_plan(PROBLEM, replace(GOOD, **change))

    assert any(problem.startswith(fault) for problem in error.value.problems), error.value.problems
