"""
How soon the planner ends when somebody asks it to or its time is up, as a ratio to the time that it was given.

Run: python -m tests.benchmarks.stopping
"""

from dataclasses import replace
from unittest.mock import patch

from reels.planner.problem import Limits
from reels.planner.short import buying
from reels.planner.solve import MOMENT, plan_cuts
from tests.reels.planner.slow import many_on_a_fine_grid, one_more_reel, slow_to_prove, too_long_for_sale

WISH = 1.0  # s after which somebody asks


def asked_to_stop():
    plan = plan_cuts(slow_to_prove(), lambda _stage, elapsed, *_: elapsed > WISH)
    return plan.seconds, WISH


def buying_after_a_stop():
    """A purchase that never works, so that only the clock ends the search for one."""
    with patch.object(buying, "_try", lambda problem, *_: (problem, None)), patch.object(buying, "MOST_REELS", 10**9):
        plan = plan_cuts(one_more_reel(Limits(seconds=60)), lambda *_: True)
    return plan.seconds, MOMENT


def within_its_time(problem):
    return plan_cuts(problem).seconds, problem.limits.seconds


def main():
    plan_cuts(replace(too_long_for_sale(), limits=Limits(seconds=0.1)))  # everything is loaded once
    cases = (
        ("asked to stop", *asked_to_stop(), 2.0),
        ("buying after a stop", *buying_after_a_stop(), 2.0),
        ("no reel for sale is long enough", *within_its_time(too_long_for_sale()), 0.5),
        ("buying on a fine grid", *within_its_time(many_on_a_fine_grid()), 2.5),
    )
    for name, took, given, most in cases:
        print(f"{name}: {took:.3f} s of {given:g} s = {took / given:.2f}, at most {most:g}")


if __name__ == "__main__":
    main()
