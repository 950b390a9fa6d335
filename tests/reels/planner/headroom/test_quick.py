from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reels.planner.headroom.bisection import LONGEST, TOTAL
from reels.planner.headroom.quick import PlannedReels, cable_stretch, run_stretch


def most_by_listing(usable: list[int], others: list[int], lengths: list[int]) -> int:
    """The most that all lengths can grow, by trying every way to put them on the reels."""
    best = -1
    for places in product(range(len(usable)), repeat=len(lengths)):
        room = [size - other for size, other in zip(usable, others, strict=True)]
        counts = [places.count(reel) for reel in range(len(usable))]
        for length, place in zip(lengths, places, strict=True):
            room[place] -= length
        if min(room) >= 0:
            best = max(best, min(left // count for left, count in zip(room, counts, strict=True) if count))
    return best


def test_a_run_may_move_to_reels_that_hold_more():
    # 100 ft on a reel of 110; a reel of 500 lies unused.
    yard = PlannedReels({"R1": 110, "R2": 500}, {"R1": [("A", 100)]})
    assert (run_stretch(yard, "A").more, run_stretch(yard, "A").bottleneck) == (400, LONGEST)
    assert (cable_stretch(yard).more, cable_stretch(yard).bottleneck) == (10, "R1")


def test_other_runs_stay_where_they_are():
    yard = PlannedReels({"R1": 210, "R2": 120}, {"R1": [("A", 100), ("B", 100)], "R2": [("A", 100)]})
    found = run_stretch(yard, "A")
    assert (found.more, found.bottleneck) == (10, "R1")
    assert found.at_most == (330 - 300) // 2


def test_all_of_the_cable_is_a_bound():
    yard = PlannedReels({"R1": 220}, {"R1": [("A", 100), ("A", 100)]})
    assert (run_stretch(yard, "A").more, run_stretch(yard, "A").bottleneck) == (10, TOTAL)


@pytest.mark.parametrize("cuts", [{}, {"R1": [("B", 50)]}, {"R1": [("A", 150)]}])
def test_what_is_not_planned_or_does_not_fit_is_refused(cuts):
    with pytest.raises(ValueError, match=r"planned|hold"):
        run_stretch(PlannedReels({"R1": 100}, cuts), "A")


def test_a_cable_of_which_nothing_is_planned_or_that_is_overdrawn_is_refused():
    for cuts in ({}, {"R1": [("A", 101)]}):
        with pytest.raises(ValueError, match=r"planned|hold"):
            cable_stretch(PlannedReels({"R1": 100}, cuts))


@given(
    reels=st.lists(st.tuples(st.integers(0, 3), st.integers(0, 20), st.integers(0, 60)), min_size=1, max_size=3),
    length=st.integers(5, 40),
)
def test_for_equal_lengths_no_arrangement_gives_more(reels, length):
    number = sum(pieces for pieces, _, _ in reels)
    if not 1 <= number <= 6:
        return
    usable = [pieces * length + other + spare for pieces, other, spare in reels]
    others = [other for _, other, _ in reels]
    yard = PlannedReels(
        {f"R{reel}": size for reel, size in enumerate(usable)},
        {
            f"R{n}": [("A", length)] * pieces + [("B", other)] * bool(other)
            for n, (pieces, other, _) in enumerate(reels)
        },
    )
    found = run_stretch(yard, "A")
    assert found.more == most_by_listing(usable, others, [length] * number) <= found.at_most


@given(st.data())
def test_for_unequal_lengths_what_is_said_fits(data):
    lengths = data.draw(st.lists(st.integers(5, 40), min_size=1, max_size=5))
    places = data.draw(st.lists(st.integers(0, 2), min_size=len(lengths), max_size=len(lengths)))
    spare = data.draw(st.lists(st.integers(0, 60), min_size=3, max_size=3))
    usable = [spare[reel] + sum(x for x, at in zip(lengths, places, strict=True) if at == reel) for reel in range(3)]
    cuts = {f"R{reel}": [("A", x) for x, at in zip(lengths, places, strict=True) if at == reel] for reel in range(3)}
    found = run_stretch(PlannedReels({f"R{reel}": size for reel, size in enumerate(usable)}, cuts), "A")
    assert 0 <= found.more <= most_by_listing(usable, [0, 0, 0], lengths) <= found.at_most


def test_all_of_a_cable_can_grow_by_what_is_spare_shared_among_its_cuts():
    # 50 are spare on two reels for two cuts: none can grow by more than 25, whatever the longest reel would allow.
    found = cable_stretch(PlannedReels({"R1": 125, "R2": 125}, {"R1": [("A", 100)], "R2": [("B", 100)]}))
    assert (found.more, found.at_most, found.bottleneck) == (25, 25, TOTAL)
    uneven = cable_stretch(PlannedReels({"R1": 110, "R2": 150}, {"R1": [("A", 100)], "R2": [("B", 100)]}))
    assert (uneven.more, uneven.at_most, uneven.bottleneck) == (10, 30, "R1")
