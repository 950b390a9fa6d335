from fractions import Fraction

import pytest

from reels.planner.files.bare import read_bare, stock_as_json
from reels.planner.problem import ProblemError
from reels.planner.stock_lengths.stock_problem import StockPattern, StockPlan

REELS = {
    "name": "two reels",
    "kind": "reels",
    "unit": "1 mm",
    "unitsPerFoot": 304.8,
    "keep": 9000,
    "reels": [{"id": "R1", "length": 100000, "whole": True}, {"id": "R2", "length": 40000, "whole": False}],
    "runs": [{"id": "BUS-1", "length": 30000, "count": 3, "priority": 2}, {"id": "BUS-2", "length": 9000, "count": 1}],
    "priorityWeights": {"1": 16, "2": 8},
}
STOCK = {
    "name": "one stock",
    "kind": "single-stock",
    "stock": [{"length": 100, "available": None, "cost": 1}],
    "items": [{"length": 45, "demand": 97}],
}


def test_a_problem_of_reels_is_read_exactly():
    problem = read_bare(REELS, seconds=3).problem
    assert problem.unit.per_foot == Fraction(3048, 10)
    assert [(reel.id, reel.length, reel.whole) for reel in problem.reels] == [
        ("R1", 100000, True),
        ("R2", 40000, False),
    ]
    assert [(d.id, d.length, d.count, d.date_class, d.weight) for d in problem.demands] == [
        ("BUS-1", 30000, 3, 2, 8),
        ("BUS-2", 9000, 1, 1, 16),
    ]
    assert (problem.keep, problem.unmet_by_sets, problem.limits.seconds) == (9000, False, 3)


def test_a_problem_of_stock_lengths_is_read():
    problem = read_bare(STOCK, seconds=3).problem
    assert [(kind.length, kind.available, kind.cost) for kind in problem.stock] == [(100, None, 1)]
    assert problem.items == ((45, 97),)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ([], "a problem is a JSON object"),
        ({"kind": "rolls"}, "kind is 'rolls'; expected reels, single-stock or multi-stock"),
        ({**REELS, "unitsPerFoot": "12"}, "unitsPerFoot must be a number"),
        ({**REELS, "keep": 1.5}, "keep must be a whole number, got 1.5"),
        ({**REELS, "reels": None}, "reels must be a list of objects"),
        ({**REELS, "runs": [{"id": "A", "length": True, "count": 1}]}, "length must be a whole number, got True"),
        ({**REELS, "runs": [{"id": None, "length": 1, "count": 1}]}, "id must be text, got None"),
        ({**REELS, "priorityWeights": [1]}, "priorityWeights must be an object"),
        ({**REELS, "priorityWeights": {"2": 1.5}}, "the weight of 2 must be a whole number"),
        ({**REELS, "buyLengths": 5}, "buyLengths must be a list of whole numbers, got 5"),
        ({**REELS, "buyLengths": None}, "buyLengths must be a list of whole numbers, got None"),
        ({**REELS, "buyLengths": "500"}, "buyLengths must be a list of whole numbers, got '500'"),
        ({**REELS, "buyLengths": ["500"]}, "each of buyLengths must be a whole number, got '500'"),
        ({**REELS, "buyLengths": [500.5]}, "each of buyLengths must be a whole number, got 500.5"),
        ({**REELS, "unitsPerFoot": float("nan")}, "unitsPerFoot must be from 0.001 to 1000000, got nan"),
        ({**REELS, "unitsPerFoot": float("inf")}, "unitsPerFoot must be from 0.001 to 1000000, got inf"),
        ({**REELS, "unitsPerFoot": 1e300}, r"unitsPerFoot must be from 0.001 to 1000000, got 1e\+300"),
        ({**REELS, "priorityWeights": {"2": 10**18}}, "the weight of 2 must be a whole number, at most 1000000"),
        ({**REELS, "keep": 10**19}, "keep must be at most 1000000000000000000, got 10000000000000000000"),
        ({**REELS, "reels": [{"id": "A", "length": 9, "whole": "false"}]}, "whole must be true or false, got 'false'"),
        ({**STOCK, "items": [{"length": 5}]}, "demand must be a whole number, got None"),
        ({**STOCK, "stock": [{"length": 5, "available": "many"}]}, "available must be a whole number"),
    ],
)
def test_what_is_missing_or_of_the_wrong_sort_is_told(data, message):
    with pytest.raises(ProblemError, match=message):
        read_bare(data, seconds=1)


def test_a_plan_of_stock_lengths_is_given_out_by_its_documented_names():
    plan = StockPlan((StockPattern(100, ((45, 2), (10, 1)), 3),), cost=3, bound=3, stopped="finished", seconds=0.1)
    answer = stock_as_json(plan, "B", "single-stock")
    assert answer["plan"] == [{"stock": 100, "cuts": {"45": 2, "10": 1}, "times": 3}]
    assert (answer["cost"], answer["bound"], answer["proven"]) == (3, 3, True)
    none = stock_as_json(StockPlan(None, None, 3, "time", 0.1), "B", "single-stock")
    assert (none["plan"], none["cost"], none["proven"]) == (None, None, False)
