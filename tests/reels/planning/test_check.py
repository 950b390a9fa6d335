"""Every way a cut plan can be wrong is found by the check."""

from dataclasses import replace
from fractions import Fraction

import pytest

from reels.planning.check import PlanWrong, check_plan
from reels.planning.plan import Bounds, Levels, Pieces, Plan, Purchase, ReelLoad
from reels.planning.problem import TENTH_FOOT, Demand, Problem, Reel

PROBLEM = Problem(
    TENTH_FOOT,
    (Reel("A", 100, True, frozen=(("D", 1),)), Reel("B", 40, False)),
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


def test_a_right_plan_passes():
    check_plan(PROBLEM, GOOD)


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
        ({"bounds": Bounds(sets_incomplete=(2,))}, "bound on sets_incomplete"),
        ({"bounds": Bounds(cost=Fraction(14))}, "bound on cost"),
        ({"buy": (Purchase(60, 1),)}, "reels of 60 cannot be bought"),
        ({"buy": (Purchase(50, 1),)}, "after buying, 0 of 4 pieces of D are cut"),
        ({"buy": (Purchase(50, 1),), "buy_bound": 60}, "bound on the purchase is 60, above 50"),
    ],
)
def test_a_wrong_plan_is_refused_with_its_fault(change, fault):
    with pytest.raises(PlanWrong) as error:
        check_plan(PROBLEM, replace(GOOD, **change))

    assert any(problem.startswith(fault) for problem in error.value.problems), error.value.problems
