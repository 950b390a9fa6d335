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
