from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reels.plans.pages.strips import PATTERNS, ReelShares, Share, draw, patterns_of, scale_of, shares_of, told_names

FOOT = 3_048_000


def reel(**parts) -> ReelShares:
    basics = {"received": 1000, "gone": 0, "unlogged": 0, "shares": (), "end": 0, "tail": 0, "end_is": "used up"}
    feet = {name: value * FOOT if isinstance(value, int) else value for name, value in {**basics, **parts}.items()}
    return ReelShares(**feet)


def share(run: str, *lengths: int) -> Share:
    return Share(run, tuple(f"A{number}" for number in range(1, len(lengths) + 1)), tuple(x * FOOT for x in lengths))


def test_bands_follow_each_other_from_the_outer_end_to_the_core():
    scale = scale_of([1000 * FOOT], unit="ft")
    whole = reel(
        gone=300, unlogged=100, shares=(share("R1", 100, 100), share("R2", 200)), end=290, tail=10, end_is="remnant"
    )
    bands = draw(whole, scale, {"R1": 3, "R2": 4})
    assert [band.kind for band in bands] == ["cut", "unlogged", "planned", "planned", "remnant", "tail"]
    assert [band.pattern for band in bands if band.kind == "planned"] == [3, 4]
    for before, after in pairwise(bands):
        assert before.x + before.width == pytest.approx(after.x, abs=0.002)
    assert bands[-1].x + bands[-1].width == pytest.approx(scale.x(1000 * FOOT), abs=0.002)
    assert bands[2].between == (scale.x(400 * FOOT),), "a line stands where one cut ends and the next begins"


def test_all_reels_are_drawn_to_the_scale_of_the_longest():
    scale = scale_of([500 * FOOT, 1000 * FOOT], unit="ft")
    (half,) = draw(reel(received=500, end=500, end_is="remnant"), scale, {})
    (full,) = draw(reel(end=1000, end_is="remnant"), scale, {})
    assert half.width * 2 == pytest.approx(full.width, abs=0.01)


def test_what_no_longer_fits_is_drawn_no_further_than_the_edge():
    bands = draw(reel(shares=(share("R1", 600, 600),)), scale_of([1000 * FOOT], unit="ft"), {})
    assert bands[-1].x + bands[-1].width <= 100


def test_a_name_stands_on_a_band_only_where_it_has_room():
    scale = scale_of([1000 * FOOT], unit="ft")
    wide, narrow, none = draw(reel(shares=(share("RUN-1", 500), share("RUN-2", 80), share("RUN-3", 10))), scale, {})
    assert (wide.label, wide.roomy) == ("RUN-1", False)
    assert (narrow.label, narrow.roomy) == ("RUN-2", True)
    assert none.label == ""


@pytest.mark.parametrize(
    ("longest", "unit", "step"), [(1338, "ft", 200), (80, "ft", 10), (7, "ft", 1)], ids=["reels", "remnants", "ends"]
)
def test_the_scale_has_at_most_eight_named_steps(longest, unit, step):
    named = [tick.at for tick in scale_of([longest * FOOT], unit=unit).ticks if not tick.half]
    assert named[1] == step * FOOT
    assert 2 <= len(named) <= 9


def test_the_scale_of_a_site_in_metres_counts_metres():
    named = [tick.at for tick in scale_of([400 * 10_000_000], unit="m").ticks if not tick.half]
    assert named[:2] == [0, 500_000_000]


def test_cuts_of_a_run_that_follow_each_other_are_one_share():
    cuts = [("R1", "A1", 5), ("R1", "A2", 5), ("R2", "A1", 7), ("R1", "B1", 5)]
    assert [(one.run, one.names) for one in shares_of(cuts)] == [("R1", ("A1", "A2")), ("R2", ("A1",)), ("R1", ("B1",))]


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (["A1"], "A1"),
        (["A1", "A2"], "A1, A2"),
        (["A1", "A2", "A3"], "A1–A3"),
        (["A9", "A10", "A11", "B12"], "A9–A11, B12"),
        (["A1", "A3", "B4"], "A1, A3, B4"),
        (["X", "X1"], "X, X1"),
    ],
)
def test_neighbours_of_a_set_are_told_together(names, told):
    assert told_names(names) == told


def test_runs_that_share_a_reel_wear_different_patterns():
    # The seventh and the first of the list by name, and the eighth and the second, meet on a reel.
    reels = [["R0", "R6"], ["R1", "R7"], ["R2", "R3", "R4", "R5"]]
    patterns = patterns_of(reels)
    assert all(len({patterns[run] for run in reel}) == len(reel) for reel in reels)
    assert set(patterns.values()) <= set(range(PATTERNS))


def test_six_runs_without_a_reel_in_common_wear_six_patterns():
    assert sorted(patterns_of([[f"R{number}"] for number in range(6)]).values()) == list(range(6))


def test_on_a_reel_of_more_runs_than_patterns_neighbours_differ():
    reel = [f"R{number:02}" for number in (3, 9, 1, 7, 0, 5, 8, 2, 6, 4)]
    patterns = patterns_of([reel, reel[::-1], ["R00", "R00", "R09"]])
    assert all(patterns[one] != patterns[other] for one, other in pairwise(reel))


@given(st.lists(st.lists(st.sampled_from([f"R{n:02}" for n in range(12)]), max_size=4), max_size=6))
def test_patterns_do_not_depend_on_the_order_of_reels_and_every_run_has_one(reels):
    patterns = patterns_of(reels)
    assert patterns == patterns_of(reels[::-1])
    assert patterns.keys() == {run for reel in reels for run in reel}
