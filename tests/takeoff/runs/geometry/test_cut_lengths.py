"""Cut lengths of conductors: sets, stick-outs, slack, bends, and what is exact about them."""

import math
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.runs.geometry.circle import PI
from takeoff.runs.geometry.cut_lengths import bend_excess, bundle_of, conductor_lengths, sets_of, turns_of
from takeoff.runs.geometry.facts import ConductorFacts, EndFacts, SectionFacts
from takeoff.runs.geometry.length_steps import length_steps
from tests.takeoff.facts import FT, IN, elbow, run, straight

QUARTER = math.pi / 2


def by_name(facts):
    return {length.name: length for length in conductor_lengths(facts)}


def placed(tiers: int = 2, across: int = 6) -> tuple[ConductorFacts, ...]:
    """Twelve conductors, phase after phase from the bottom left."""
    names = [f"{phase}{number}" for phase in "ABC" for number in range(1, 5)]
    return tuple(ConductorFacts(name, place // across + 1, place % across + 1) for place, name in enumerate(names))


def inches(ticks) -> float:
    return float(ticks / IN)


def excess(facts, name: str) -> float:
    """What a conductor needs beyond the centre line, in inches, from its own length."""
    return inches(by_name(facts)[name].own - facts.centre_line - 10 * FT)


def test_sets_are_phases_neutrals_and_ground_conductors():
    facts = run(phases=2, cables_per_phase=2, neutrals=3, ground_cables=1)
    assert sets_of(facts) == {"A": ("A1", "A2"), "B": ("B1", "B2"), "N": ("N1", "N2", "N3"), "G": ("G1",)}
    assert facts.conductor_count == 7
    assert "G" not in sets_of(replace(facts, ground_cables=0))


def test_a_straight_run_needs_centre_line_stick_outs_slack_and_pull():
    facts = run(straight(40 * FT), slack=Decimal("0.02"), pull_allowance=2 * FT)
    assert {length.length for length in conductor_lengths(facts) if length.set_name != "G"} == {51 * FT + 2 * FT}


def test_ground_conductors_take_tails_and_slack_alone():
    ends = (EndFacts("from", 5 * FT, ground_tail=3 * FT), EndFacts("to", 5 * FT, ground_tail=2 * FT))
    facts = run(straight(45 * FT), elbow("right"), ends=ends, slack=Decimal("0.1"), pull_allowance=FT)
    ground = by_name(facts)["G1"]
    assert (ground.length, ground.least_length) == (Fraction(53 * FT) * Fraction(11, 10),) * 2


def test_least_length_takes_the_least_stick_outs():
    ends = (EndFacts("from", 5 * FT, 4 * FT), EndFacts("to", 5 * FT))
    found = by_name(run(straight(40 * FT), ends=ends))["A1"]
    assert (found.length, found.least_length) == (50 * FT, 49 * FT)


def test_measured_length_of_the_run_outranks_the_drawing():
    facts = run(straight(40 * FT), measured=41 * FT)
    assert by_name(facts)["A1"].length == 51 * FT
    assert by_name(facts.as_drawn())["A1"].length == 50 * FT


def test_a_set_gets_its_longest_and_other_sets_their_own():
    facts = run(straight(40 * FT), conductors=(ConductorFacts("A3", extra=FT),))
    lengths = by_name(facts)
    assert [lengths[name].length // FT for name in ("A1", "A3", "B1")] == [51, 51, 50]
    assert (lengths["A1"].own, lengths["A3"].own) == (50 * FT, 51 * FT)


def test_centres_are_twice_the_diameter_apart_where_no_spacing_is_given():
    bundle = bundle_of(run())
    assert (bundle.places, bundle.tiers, bundle.given) == (6, 2, False)
    assert (bundle.aside, bundle.above) == (Fraction(5, 2) * 509_524, Fraction(1, 2) * 509_524)


@pytest.mark.parametrize(
    ("turn", "kind", "bottom_left", "top_right"),
    [
        # 2 in centres: bottom left stands 5 in left and 1 in low, top right 5 in right and 1 in high.
        ("right", "horizontal elbow", 5, 0),
        ("left", "horizontal elbow", 0, 5),
        ("down", "vertical elbow", 0, 1),
        ("up", "vertical elbow", 1, 0),
    ],
)
def test_the_outside_of_a_bend_needs_more_and_the_inside_none_less_than_none(turn, kind, bottom_left, top_right):
    facts = run(elbow(turn, kind=kind), centre_spacing=2 * IN, conductors=placed())
    assert excess(facts, "A1") == pytest.approx(bottom_left * QUARTER, abs=1e-4)
    assert excess(facts, "C4") == pytest.approx(top_right * QUARTER, abs=1e-4)


def test_turns_both_ways_cancel_for_placed_and_unplaced_alike():
    facts = run(elbow("right"), elbow("left", seq=2), centre_spacing=2 * IN)
    assert excess(facts, "A1") == 0
    assert excess(replace(facts, conductors=placed()), "A1") == 0


def test_a_bend_inside_is_made_up_by_a_bend_outside_before_it_is_cut_off_at_nothing():
    facts = run(elbow("left"), elbow("right", seq=2), elbow("right", seq=3), centre_spacing=2 * IN, conductors=placed())
    assert excess(facts, "A1") == pytest.approx(5 * QUARTER, abs=1e-4)


def test_without_positions_every_set_takes_the_largest_offset():
    facts = run(elbow("left"), elbow("down", kind="vertical elbow", seq=2), centre_spacing=2 * IN)
    lengths = {length.length for length in conductor_lengths(facts) if length.set_name != "G"}
    assert len(lengths) == 1
    assert excess(facts, "A1") == pytest.approx((5 + 1) * QUARTER, abs=1e-4)


def test_a_turn_that_the_sheet_does_not_name_takes_the_largest_offset_for_all():
    facts = run(elbow(), elbow(kind="vertical elbow", seq=2), centre_spacing=2 * IN, conductors=placed())
    assert {round(excess(facts, name), 3) for name in ("A1", "B2", "C4")} == {round(6 * QUARTER, 3)}


def test_a_set_that_is_only_partly_placed_takes_the_largest_offset():
    facts = run(elbow("left"), centre_spacing=2 * IN, conductors=placed()[:6])
    assert excess(facts, "A1") == 0
    assert excess(facts, "B1") == pytest.approx(5 * QUARTER, abs=1e-4)
    assert not bundle_of(facts).given


def test_a_wider_tier_of_the_drawing_sets_the_centre():
    # Seven places at the bottom, five on top: place 1 stands 3 spacings off centre, place 4 on it.
    places = [(1, place) for place in range(1, 8)] + [(2, place) for place in range(1, 6)]
    listed = tuple(replace(old, tier=tier, position=place) for old, (tier, place) in zip(placed(), places, strict=True))
    facts = run(elbow("right"), centre_spacing=2 * IN, conductors=listed)
    assert bundle_of(facts).places == 7
    assert by_name(facts)["A1"].own == math.ceil(facts.centre_line + 10 * FT + PI / 2 * 6 * IN)
    assert by_name(facts)["A4"].own == facts.centre_line + 10 * FT


def test_a_cut_length_goes_up_to_a_whole_tick():
    facts = run(straight(3 * FT + 1), slack=Decimal("0.0001"))
    exact = (13 * FT + 1) * Fraction(10_001, 10_000)
    assert exact.denominator > 1
    assert by_name(facts)["A1"].length == math.ceil(exact) == int(exact) + 1


def test_other_angles_and_other_fittings():
    half = SectionFacts(1, "horizontal elbow", FT, angle=Decimal(45), turn="right")
    facts = run(half, centre_spacing=2 * IN, conductors=placed())
    assert excess(facts, "A1") == pytest.approx(5 * math.pi / 4, abs=1e-4)
    others = [
        SectionFacts(seq, kind, FT, angle=Decimal(30)) for seq, kind in enumerate(("tee", "offset", "expansion"), 1)
    ]
    assert excess(run(*others, centre_spacing=2 * IN), "A1") == 0


def test_an_odd_number_in_a_tier_leaves_one_on_the_centre():
    facts = run(elbow("right"), tiers=1, phases=3, cables_per_phase=1, centre_spacing=2 * IN)
    names = tuple(ConductorFacts(name, 1, place) for place, name in enumerate(("A1", "B1", "C1"), 1))
    found = replace(facts, conductors=names)
    assert excess(found, "B1") == 0
    assert excess(found, "A1") == pytest.approx(2 * QUARTER, abs=1e-4)


sections = st.lists(
    st.builds(
        SectionFacts,
        seq=st.integers(1, 9),
        kind=st.sampled_from(["straight", "horizontal elbow", "vertical elbow", "offset"]),
        length=st.integers(0, 200 * FT),
        angle=st.none() | st.integers(1, 90).map(Decimal),
        turn=st.sampled_from(["", "left", "right", "up", "down"]),
    ),
    max_size=8,
)


@given(sections=sections, slack=st.integers(0, 500), position=st.integers(1, 6), tier=st.integers(1, 2))
def test_no_placed_conductor_needs_more_than_the_assumed_largest(sections, slack, position, tier):
    facts = run(*sections, centre_spacing=2 * IN, slack=Decimal(slack) / 10_000)
    turns, bundle = turns_of(facts), bundle_of(facts)
    own = bend_excess(turns, bundle, bundle.offset(ConductorFacts("A1", tier, position)))
    assert 0 <= own <= bend_excess(turns, bundle, None)


@given(sections=sections, slack=st.integers(0, 500), more=st.integers(0, 10 * FT))
def test_lengths_grow_with_the_run_and_lose_nothing_to_rounding(sections, slack, more):
    facts = run(*sections, centre_spacing=2 * IN, slack=Decimal(slack) / 10_000)
    longer = replace(facts, sections=(*facts.sections, straight(more, 99)))
    for before, after in zip(conductor_lengths(facts), conductor_lengths(longer), strict=True):
        needed = more * (1 + Fraction(slack, 10_000))
        assert needed - 1 < after.length - before.length < needed + 1
        assert before.own <= before.length
        assert before.least_length <= before.length


def test_steps_show_the_worked_example():
    facts = run(straight(40 * FT), elbow("right", seq=2), centre_spacing=2_006 * IN // 1000, slack=Decimal("0.02"))
    found = length_steps(facts, "A1", unit="ft")
    assert [(step.label, step.working, step.result) for step in found.steps] == [
        ("Centre line, as drawn", "1 × 40' 0\" straight + 1 × 3' 0\" horizontal elbow", "43' 0\""),
        ("Stick-outs", "5' 0\" at the from end + 5' 0\" at the to end", "10' 0\""),
        ("Slack", "53' 0\" × 2 %", "1' 0 3/4\""),
        ("Turns right less left", "90° × π/180 × 5.015 in, the largest offset to the side", "7.88 in"),
        ("Bend excess", "added", "7.88 in"),
        ("Needed", "all of these added, up", "54' 8 5/8\""),
        ("Cut length", "the longest of set A is A1", "54' 8 5/8\""),
    ]
    assert not found.placed
    assert all(step.source for step in found.steps)


def test_steps_of_a_placed_conductor_go_elbow_by_elbow():
    facts = run(
        elbow("right"),
        elbow("up", kind="vertical elbow", seq=2),
        elbow(seq=3),
        centre_spacing=50 * 10_000,
        conductors=(*placed()[1:], replace(placed()[0], extra=100 * 10_000)),
        measured=12 * FT,
        pull_allowance=300 * 10_000,
        ends=(EndFacts("from", FT, FT // 2), EndFacts("to", FT)),
    )
    found = length_steps(facts, "A1", unit="m")
    assert [(step.label, step.working, step.result) for step in found.steps] == [
        ("Centre line, as built", "measured for the whole run; drawn 2.7432 m", "3.6576 m"),
        ("Stick-outs", "304.8 mm at the from end + 304.8 mm at the to end", "609.6 mm"),
        ("Section 1, 90° right", "π × 90/180 × 125 mm left of the centre", "+196.3 mm"),
        ("Section 2, 90° up", "π × 90/180 × 25 mm below the centre", "+39.3 mm"),
        ("Section 3, 90°", "π × 90/180 × the largest offset, 125 mm: the turn is not named", "+196.3 mm"),
        ("Bend excess", "added, never below 0", "432 mm"),
        ("Extra for this conductor", "as the sheet says", "100 mm"),
        ("Allowance for the pull", "as the sheet says", "300 mm"),
        ("Needed", "all of these added, up", "5.1 m"),
        ("Cut length", "the longest of set A is A1", "5.1 m"),
        ("Least length", "the same with the least stick-outs", "4.947 m"),
    ]
    assert (found.placed, found.longest) == (True, "A1")


def test_steps_of_a_ground_conductor():
    facts = run(straight(40 * FT, measured=41 * FT), ends=(EndFacts("from", ground_tail=2 * FT), EndFacts("to")))
    assert [(step.label, step.result) for step in length_steps(facts, "G1", unit="ft").steps] == [
        ("Centre line, as built by section", "41' 0\""),
        ("Ground tails", "2' 0\""),
        ("Needed", "43' 0\""),
        ("Cut length", "43' 0\""),
    ]


def test_steps_say_when_bends_cannot_be_counted():
    facts = run(elbow("left"), cable=replace(run().cable, diameter=None))
    assert ("Bends", "not counted") in [
        (step.label, step.result) for step in length_steps(facts, "A1", unit="ft").steps
    ]


def test_where_another_code_holds_cut_lengths_cite_none():
    steps = length_steps(run(straight()), "A1", unit="m", code="other").steps
    assert not [step for step in steps if "NFPA" in step.source]
    assert steps[-1].source == "common practice: parallel conductors of one phase have the same length"


def test_the_working_of_a_run_without_an_end_ends_in_no_length():
    steps = length_steps(replace(run(straight()), ends=()), "A1", unit="ft").steps
    assert (steps[-1].label, steps[-1].result) == ("Cut length", "not known yet")
    assert steps[-1].working == "nobody has told the from end and the to end"
