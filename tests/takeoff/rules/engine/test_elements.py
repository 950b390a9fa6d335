"""What a run has that rules count."""

from dataclasses import replace
from fractions import Fraction

from takeoff.rules.engine.elements import Elements, Group, cables_area, crossing_volume, posts, unmeasured
from takeoff.runs.geometry.circle import PI
from takeoff.runs.geometry.facts import CableFacts, CrossingFacts, EndFacts
from tests.takeoff.facts import CABLE, FT, GROUND, IN, MM, elbow, run, straight

ENDS = (
    EndFacts("from", lug_holes=2, ground_lug_holes=1, seal="moulded", seal_width=18 * IN, seal_height=20 * IN),
    EndFacts("to", lug_holes=4, ground_lug_holes=2, seal="none", seal_width=99 * IN),
)
WALL = CrossingFacts(FT, "wall", 30 * IN, 26 * IN, 8 * IN, seal="caulked", fire_rated=True)
FACTS = run(straight(10 * FT), straight(10 * FT, 2), elbow(seq=3), ends=ENDS, crossings=(WALL,), neutrals=2)


def counts(counted_on, facts=FACTS):
    return [(group.count, group.where) for group in Elements(facts).of(counted_on)]


def lengths(counted_on, facts=FACTS):
    return [length for group in Elements(facts).of(counted_on) for length in group.lengths]


def test_things_that_are_alike_come_as_one_group():
    assert counts("section") == [(2, "straight"), (1, "horizontal elbow")]
    assert lengths("section") == [(10 * FT, 2), (3 * FT, 1)]
    assert counts("straight") == [(2, "straight")]
    assert counts("fitting") == [(1, "horizontal elbow")]
    assert counts("cover", replace(FACTS, sections=(straight(cover=False), straight(seq=2)))) == [
        (1, "cover of straight")
    ]
    assert lengths("run") == [(23 * FT, 1)]


def test_joints_are_one_less_than_sections_and_never_below_none():
    assert counts("joint") == [(2, "joint")]
    assert counts("joint", run(straight())) == counts("joint", run()) == [(0, "joint")]


def test_conductors_and_ground_conductors_have_ends_and_holes():
    assert counts("conductor") == [(3 * 4 + 2, "conductor")]
    assert counts("conductor end") == [(14, "conductor end at the from end"), (14, "conductor end at the to end")]
    assert counts("lug hole") == [(28, "lug hole at the from end"), (56, "lug hole at the to end")]
    assert [count for count, _ in counts("ground conductor")] == [1]
    assert [count for count, _ in counts("ground end")] == [1, 1]
    assert [count for count, _ in counts("ground lug hole")] == [1, 2]
    assert [count for count, _ in counts("end")] == [1, 1]


def test_seals_are_those_of_ends_and_crossings_that_have_one():
    assert counts("seal") == [(1, "seal at the from end"), (1, "seal at the wall crossing 1")]
    assert lengths("seal plate edge") == [(2 * 38 * IN, 1), (2 * 56 * IN, 1)]
    assert lengths("seal block face") == [(18 * IN, 3), (30 * IN, 3)], "a block more than tiers"
    holes = [(PI * CABLE.diameter, 12), (PI * CABLE.diameter, 2)]
    assert lengths("seal cable hole") == holes * 2


def test_what_a_seal_does_not_say_has_no_length():
    bare = replace(FACTS, ends=(EndFacts("from", seal="moulded", seal_width=IN), EndFacts("to")), crossings=())
    assert lengths("seal plate edge", bare) == []
    assert lengths("seal block face", bare) == [(IN, 3)]
    unknown = replace(bare, cable=CableFacts("c", "500", "Cu"), neutral_cable=GROUND)
    assert lengths("seal cable hole", unknown) == [(PI * GROUND.diameter, 2)]


def test_a_crossing_is_filled_round_all_cables():
    area = PI / 4 * (14 * CABLE.diameter**2 + GROUND.diameter**2)
    assert cables_area(FACTS) == area
    volume = Fraction((30 * IN * 26 * IN - area) * 8 * IN, MM**3)
    assert crossing_volume(FACTS, WALL) == volume
    (group,) = Elements(FACTS).of("crossing")
    assert (group.volume, group.number, group.traits.fire_rated) == (volume, 1, True)
    bare = replace(FACTS, neutrals=0, ground_cables=0, ground_cable=None)
    assert cables_area(bare) == PI / 4 * 12 * CABLE.diameter**2
    assert cables_area(replace(bare, ground_cables=1)) is None
    for lacking in ("width", "height", "depth"):
        assert crossing_volume(FACTS, replace(WALL, **{lacking: None})) is None


def test_an_opening_of_no_depth_is_nothing_to_fill_and_no_fault():
    flat = crossing_volume(FACTS, replace(WALL, depth=0))
    assert flat == 0
    assert unmeasured(Group(1, "wall crossing 1", volume=flat), "fill") == ""
    assert crossing_volume(FACTS, replace(WALL, width=IN, height=IN)) < 0


def test_what_the_sheet_leaves_out_is_told():
    assert unmeasured(Group(1, "cable hole in the seal"), "bead") == (
        "the cable hole in the seal lacks the cable's diameter; nothing is counted there"
    )
    plate = Group(1, "edge")
    for measure in ("spaced", "bead"):
        assert unmeasured(plate, measure) == "the edge lacks its width or height; nothing is counted there"
    assert unmeasured(plate, "each") == ""
    assert unmeasured(plate, "fill").startswith("the edge lacks width, height, depth or a cable diameter")
    assert unmeasured(replace(plate, volume=Fraction(-1)), "fill").startswith("the cables do not fit the opening")
    assert unmeasured(replace(plate, lengths=((1, 1),)), "bead") == ""


def test_posts_stand_at_both_ends_of_what_the_offsets_leave():
    assert [posts(length, 3, 0) for length in (0, 1, 3, 4, 36)] == [1, 2, 2, 3, 13]
    assert [posts(length, 3, 2) for length in (3, 4, 5)] == [1, 1, 2]
