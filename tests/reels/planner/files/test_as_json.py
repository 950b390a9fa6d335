"""A plan as machines read it."""

from fractions import Fraction

from reels.planner.files.as_json import levels_as_json, plan_as_json, proven_as_json
from reels.planner.plan import Bounds, Levels, Pieces, Plan, Purchase, ReelLoad
from reels.planner.problem import INCH, Demand, Problem, StockReel

PROBLEM = Problem(
    INCH, (StockReel("A", 100, True),), (Demand("D", 30, 2, run_id="r"), Demand("E", 25, 3, run_id="r")), keep=20
)
PLAN = Plan(
    loads=(ReelLoad("A", (Pieces("D", 2), Pieces("E", 1)), 15, "scrap"),),
    unmet=(Pieces("E", 2), Pieces("D", 1)),
    levels=Levels((1,), 100, 50, 15, 1, 0, 1),
    bounds=Bounds(unmet=50, whole_reels=1),
    cost=Fraction(11),
    buy=(Purchase(600, 2),),
    stopped="finished",
    seconds=1.23456,
)


def test_levels_are_feet_to_four_places_and_null_where_nothing_is_proven():
    assert levels_as_json(PROBLEM, PLAN.levels) == {
        "unmetWeighted": 8.3333, "unmetFeet": 4.1667, "scrapFeet": 1.25, "wholeReelsOpened": 1, "remnants": 0,
        "setups": 1,
    }  # fmt: skip
    bounds = levels_as_json(PROBLEM, PLAN.bounds)
    assert {name: value for name, value in bounds.items() if value is not None} == {
        "unmetFeet": 4.1667, "wholeReelsOpened": 1,
    }  # fmt: skip
    assert [name for name, holds in proven_as_json(PLAN).items() if holds] == ["unmetFeet", "wholeReelsOpened"]


def test_pieces_are_counted_by_run():
    answer = plan_as_json(PROBLEM, PLAN, "C")
    assert answer["plan"] == [{"reel": "A", "cuts": {"r": 3}}]
    assert answer["unmet"] == {"r": 3}
    assert answer["buy"] == [{"length": 600, "count": 2}]
    assert (answer["name"], answer["kind"], answer["seconds"], answer["stopped"]) == ("C", "reels", 1.235, "finished")
    assert answer["levels"] == levels_as_json(PROBLEM, PLAN.levels)
    assert answer["bounds"] == levels_as_json(PROBLEM, PLAN.bounds)
