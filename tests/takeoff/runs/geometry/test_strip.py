"""The drawings of a run: to scale, with everything in its place."""

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.rules.engine.elements import posts
from takeoff.runs.geometry.cross_section import draw_cross_section
from takeoff.runs.geometry.facts import CableFacts, ConductorFacts, CrossingFacts, EndFacts, RunFacts, SectionFacts
from takeoff.runs.geometry.strip import MARGIN, MOST_MARKS, Repeat, draw_strip, stations

FT = 3_048_000
CABLE = CableFacts("C", "500", "Cu", diameter=254_000)


def run(*sections: SectionFacts, **more) -> RunFacts:
    basics = {"name": "R", "tiers": 1, "phases": 3, "cables_per_phase": 2, "cable": CABLE}
    return RunFacts(**{**basics, "sections": sections, **more})


def straight(seq: int, feet: int, **more) -> SectionFacts:
    return SectionFacts(seq, "straight", feet * FT, **more)


def test_widths_are_as_the_lengths_and_fill_the_drawing():
    strip = draw_strip(run(straight(1, 10), straight(2, 30)))
    first, second = strip.pieces
    assert second.width == pytest.approx(3 * first.width, abs=0.01)
    assert first.x == MARGIN
    assert second.x + second.width == pytest.approx(100 - MARGIN, abs=0.01)


def test_stick_outs_are_to_the_same_scale_as_the_sections():
    ends = (EndFacts("from", stick_out=10 * FT), EndFacts("to", stick_out=20 * FT, seal="caulked"))
    strip = draw_strip(run(straight(1, 70), ends=ends))
    (piece,) = strip.pieces
    before, after = strip.tails
    assert before.far - before.x == pytest.approx(piece.width / 7, abs=0.01)
    assert after.far - after.x == pytest.approx(piece.width / 3.5, abs=0.01)
    assert (before.far, after.x) == (piece.x, pytest.approx(piece.x + piece.width, abs=0.01))
    assert after.joint == after.x


def test_a_crossing_stands_at_its_distance_and_never_beyond_the_end():
    crossings = (CrossingFacts(25 * FT, "wall", fire_rated=True), CrossingFacts(999 * FT, "floor"))
    strip = draw_strip(run(straight(1, 100), crossings=crossings))
    wall, floor = strip.walls
    assert wall.x == pytest.approx(MARGIN + (100 - 2 * MARGIN) / 4, abs=0.01)
    assert floor.x == pytest.approx(100 - MARGIN, abs=0.01)


def test_fittings_say_their_turn_and_vertical_sections_say_so():
    sections = (
        SectionFacts(1, "horizontal elbow", 2 * FT, turn="left"),
        SectionFacts(2, "vertical elbow", 2 * FT, lie="vertical", turn="up"),
        SectionFacts(3, "horizontal elbow", 2 * FT),
        SectionFacts(4, "tee", 2 * FT),
    )
    strip = draw_strip(run(*sections))
    assert [piece.sign for piece in strip.pieces] == ["↰", "↑", "∟", "T"]
    assert [piece.is_vertical for piece in strip.pieces] == [False, True, False, False]
    assert strip.fittings == 4


def test_a_measured_section_is_drawn_as_measured():
    strip = draw_strip(run(straight(1, 10, measured=20 * FT), straight(2, 20)))
    assert strip.pieces[0].width == pytest.approx(strip.pieces[1].width, abs=0.01)
    assert strip.length == 40 * FT


def test_a_run_without_sections_has_no_strip():
    assert draw_strip(run()) is None


@pytest.mark.parametrize("feet", [3, 36, 113, 740, 5000])
def test_the_scale_has_a_readable_number_of_marks_at_round_lengths(feet):
    scale = draw_strip(run(straight(1, feet))).scale
    assert 2 <= len(scale) <= 11
    step = scale[1].at // FT
    assert str(step).rstrip("0") in {"1", "2", "5"}


# 36 ft at 3 ft is 12 bays; with an offset of half a bay the spacing holds across joints.
def test_posts_stand_as_the_quantity_rule_counts_them():
    assert len(stations(36 * FT, 3 * FT, 0)) == 13
    assert len(stations(36 * FT, 3 * FT, 3 * FT // 2)) == 12
    assert stations(2 * FT, 10 * FT, 5 * FT) == [FT]


@given(st.integers(1, 500 * FT), st.integers(FT // 4, 20 * FT), st.integers(0, 10 * FT))
def test_as_many_posts_are_drawn_as_are_counted_and_never_too_far_apart(length, spacing, offset):
    places = stations(length, spacing, offset)
    assert len(places) == posts(length, spacing, offset)
    assert all(0 <= one <= length for one in places)
    assert all(0 < far - near <= spacing for near, far in pairwise(places))


def test_what_stands_along_the_run_counts_on_the_measured_length_and_is_drawn_within_the_strip():
    facts = run(straight(1, 143), measured=148 * FT)
    strip = draw_strip(facts, [Repeat("support", 12 * FT, 0, along_run=True)])
    (lane,) = strip.lanes
    assert len(lane.at) == posts(148 * FT, 12 * FT, 0) == 14
    assert lane.at[-1] == pytest.approx(100 - MARGIN, abs=0.01)


def test_repeats_of_one_name_share_a_lane_and_keep_to_their_sections():
    facts = run(straight(1, 12), straight(2, 12, lie="vertical"))
    repeats = [
        Repeat("block", 3 * FT, 3 * FT // 2, lies=frozenset({"horizontal"})),
        Repeat("block", 3 * FT // 2, 3 * FT // 4, lies=frozenset({"vertical"})),
        Repeat("clamp", 10 * FT, 5 * FT, kinds=frozenset({"tee"})),
    ]
    (lane,) = draw_strip(facts, repeats).lanes
    assert (lane.name, len(lane.at), lane.count, lane.spacings) == ("block", 4 + 8, 4 + 8, (3 * FT, 3 * FT // 2))


@pytest.mark.parametrize("feet", [12 * MOST_MARKS, 999_999_999_999], ids=["one too many", "what no run is"])
def test_a_lane_that_is_too_long_counts_its_marks_and_draws_none(feet):
    """Whatever the books hold, the drawing of a run comes back."""
    repeat = Repeat("support", 12 * FT, 0, along_run=True)
    (lane,) = draw_strip(run(straight(1, 143), measured=feet * FT), [repeat]).lanes
    assert (lane.at, lane.count) == ((), posts(feet * FT, 12 * FT, 0))
    (lane,) = draw_strip(run(straight(1, 143), measured=12 * (MOST_MARKS - 1) * FT), [repeat]).lanes
    assert len(lane.at) == lane.count == MOST_MARKS


def test_a_bundle_that_the_drawing_places_is_labelled_from_the_bottom_left():
    placed = [("A1", 1, 1), ("B1", 1, 2), ("C1", 1, 3), ("A2", 2, 1), ("B2", 2, 2), ("C2", 2, 3)]
    conductors = tuple(ConductorFacts(name, tier, position) for name, tier, position in placed)
    section = draw_cross_section(run(tiers=2, conductors=conductors))
    by_label = {one.name: one for one in section.conductors}
    assert section.given
    assert by_label["A1"].y > by_label["A2"].y, "tier 1 is the bottom"
    assert by_label["A1"].x < by_label["C1"].x, "position 1 is left"
    # Centres stand twice the diameter of 1 in apart where the sheet gives no spacing.
    assert by_label["B1"].x - by_label["A1"].x == pytest.approx(50.8)
    assert len(section.blocks) == 3


def test_a_bundle_is_drawn_to_scale():
    """Worked by hand: cable of 25.4 mm, centres 50.8 mm apart, 1.4 diameters from a centre to the enclosure."""
    placed = [("A1", 1, 1), ("B1", 1, 2), ("C1", 1, 3), ("A2", 2, 1), ("B2", 2, 2), ("C2", 2, 3)]
    conductors = (*(ConductorFacts(*one) for one in placed), ConductorFacts("G1", 1, 3))
    section = draw_cross_section(run(tiers=2, conductors=conductors))
    assert (section.width, section.height, section.diameter) == (172.72, 121.92, 25.4)
    assert [(one.x, one.y, one.name) for one in section.conductors] == [
        (35.56, 86.36, "A1"), (86.36, 86.36, "B1"), (137.16, 86.36, "C1"),
        (35.56, 35.56, "A2"), (86.36, 35.56, "B2"), (137.16, 35.56, "C2"),
    ], "the ground conductor lies elsewhere"  # fmt: skip
    assert [(block.y, block.height) for block in section.blocks] == [(99.06, 22.86), (48.26, 25.4), (0, 22.86)]
    assert section.view_box == "-2 -2 176.72 125.92"
    assert section.text_size < section.diameter
    assert section.grounds == ("G1",), "and is told apart"


def test_a_bundle_that_nobody_placed_names_no_phase():
    section = draw_cross_section(run(tiers=4, neutrals=1))
    assert not section.given
    assert [one.name for one in section.conductors] == [""] * 7
    assert all(0 < one.x < section.width and 0 < one.y < section.height for one in section.conductors)


def test_each_conductor_tells_its_place_and_a_neutral_has_its_own_diameter():
    placed = [("A1", 1, 1), ("B1", 1, 2), ("C1", 1, 3), ("N1", 2, 1)]
    thin = CableFacts("N", "4/0", "Cu", diameter=150_000)
    conductors = tuple(ConductorFacts(*one) for one in placed)
    facts = run(tiers=2, cables_per_phase=1, neutrals=1, neutral_cable=thin, conductors=conductors)
    section = draw_cross_section(facts)
    assert [(one.name, one.tier, one.position, one.diameter, one.radius) for one in section.conductors] == [
        ("A1", 1, 1, 25.4, 12.7), ("B1", 1, 2, 25.4, 12.7), ("C1", 1, 3, 25.4, 12.7), ("N1", 2, 1, 15, 7.5)
    ]  # fmt: skip


def test_without_a_diameter_there_is_no_cross_section():
    unknown = CableFacts("C", "500", "Cu")
    assert draw_cross_section(run(cable=unknown, slack=Decimal(0))) is None
    assert draw_cross_section(run(cable=unknown, centre_spacing=508_000)) is None
