"""A plan holds while each reel can give what is left of its share."""

import pytest

from reels.planner.holds import still_holds

SHARES = [("R-1", 100), ("R-1", 50), ("R-2", 70)]


@pytest.mark.parametrize(
    ("reels", "holds"),
    [
        ({"R-1": 150, "R-2": 70}, True),
        ({"R-1": 150, "R-2": 70, "R-3": 1000}, True),
        ({"R-1": 149, "R-2": 1000}, False),
        ({"R-1": 150}, False),
        ({}, False),
    ],
    ids=["to the last", "another reel came", "one too short", "one gone", "all gone"],
)
def test_a_plan_holds_while_every_reel_holds_its_share(reels, holds):
    assert still_holds(SHARES, reels) is holds


def test_a_plan_that_is_cut_holds():
    assert still_holds([], {})
