"""A plan in words for a terminal."""

from reels.planner.files.as_text import tell

ANSWER = {
    "name": "500-CU",
    "kind": "reels",
    "stopped": "proven",
    "levels": {"unmetFeet": 0, "scrapFeet": 21.4, "wholeReelsOpened": 1, "remnants": 0, "setups": 2},
    "bounds": {"unmetFeet": 0, "scrapFeet": 0.0, "wholeReelsOpened": 1, "remnants": 0, "setups": 2},
    "plan": [{"reel": "A", "cuts": {"R1": 9}}],
    "unmet": {},
    "buy": [],
}


def test_a_plan_that_cannot_be_bettered_says_so_of_each_level():
    told = list(tell(ANSWER))
    assert told == [
        "500-CU: 9 cuts off 1 reel (nothing better exists)",
        "  21.4 ft of scrap, best together with the others",
        "  1 whole reels opened, proven best",
        "  2 set-ups, proven best",
        "  A: 9 × R1",
    ]


def test_a_plan_that_may_be_bettered_says_what_is_known():
    told = list(tell({**ANSWER, "stopped": "time"}))
    assert told[1] == "  21.4 ft of scrap, at least 0 ft is proven"


def test_a_plan_of_stock_lengths_is_told_with_what_is_proven():
    answer = {
        "name": "B", "kind": "single-stock", "cost": 7, "plan": [{"stock": 100, "cuts": {"45": 2}, "times": 3}],
    }  # fmt: skip
    assert list(tell({**answer, "bound": 7})) == ["B: costs 7, proven best", "  3 × 100: 2 × 45"]
    assert next(iter(tell({**answer, "bound": 6}))) == "B: costs 7, at least 6 is proven"
    assert next(iter(tell({**answer, "bound": None}))) == "B: costs 7, nothing proven"
    nothing = tell({**answer, "bound": 6, "plan": None})
    assert list(nothing) == ["B: no plan was found; none can cost less than 6"]
