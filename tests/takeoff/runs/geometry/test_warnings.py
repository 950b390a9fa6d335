"""What stands against a run: code guards with their source, and sheets that contradict each other."""

from dataclasses import replace
from fractions import Fraction

import pytest

from takeoff.runs.geometry.facts import CableFacts, ConductorFacts, EndFacts
from takeoff.runs.geometry.warnings import notices, radius_up, unequal_set
from tests.takeoff.facts import CABLE, FT, GROUND, IN, MM, elbow, run, straight

SMALL = CableFacts("small", "2", "Cu", diameter=10 * MM)


def keys(facts, **rest):
    return [(guard.kind, guard.key) for guard in notices(facts, **rest)]


def test_an_ordinary_run_has_nothing_against_it():
    assert notices(run(straight(), elbow("left", seq=2, radius=36 * IN), breaker_amps=2000)) == ()


def test_code_guards_name_their_source_and_who_decides():
    for guard in notices(run(elbow(radius=IN), cable=SMALL, ground_cable=replace(GROUND, size="6"), breaker_amps=4000)):
        assert "NFPA 70" in guard.source
        assert guard.text.endswith("The adopted local code and the engineer of record decide.")


def test_another_code_turns_code_guards_into_notes_and_leaves_the_drawing_alone():
    facts = run(
        elbow(radius=IN),
        cable=SMALL,
        ground_cable=replace(GROUND, size="6"),
        breaker_amps=4000,
        drawing_length=FT,
    )
    assert keys(facts) == [
        ("refused", "conductor too small"),
        ("warning", "ground cable too small"),
        ("warning", "elbow too tight"),
        ("warning", "drawing length differs"),
    ]
    assert [kind for kind, _ in keys(facts, code="other")] == ["note", "note", "note", "warning"]


def test_neutrals_are_conductors_too():
    assert keys(run(straight(), neutrals=1, neutral_cable=SMALL)) == [("refused", "conductor too small")]
    assert keys(run(straight(), neutrals=0, neutral_cable=SMALL)) == []


def test_no_ground_cable_is_checked_only_where_one_is_meant():
    assert keys(run(straight(), ground_cables=0, ground_cable=None, breaker_amps=4000)) == []
    assert keys(run(straight(), ground_cable=None)) == [("warning", "ground cable not named")]
    assert keys(run(straight(), ground_cable=replace(GROUND, size="6"))) == []


def test_the_thicker_or_shielded_cable_decides_the_radius():
    shielded = replace(CABLE, shielded=True)  # 12 × 1.003 in
    assert keys(run(elbow("left", radius=12 * IN))) == []
    (guard,) = notices(run(elbow("left", radius=12 * IN), neutrals=1, neutral_cable=shielded))
    assert "bends to 1' 0\": the cable needs 12.1 in, 12 × the shielded" in guard.text
    assert keys(run(straight(radius=IN))) == []


@pytest.mark.parametrize(
    ("ticks", "unit", "shown"),
    [
        (10 * IN, "ft", "10.0 in"),
        (10 * IN + 1, "ft", "10.1 in"),
        (250 * MM, "m", "250 mm"),
        (Fraction(2_500_001), "m", "251 mm"),
    ],
)
def test_a_radius_never_reads_short(ticks, unit, shown):
    assert radius_up(ticks, unit) == shown


def test_a_drawing_length_is_compared_with_the_drawn_sections():
    facts = run(straight(10 * FT, measured=11 * FT), drawing_length=10 * FT)
    assert keys(facts) == []
    (guard,) = notices(replace(facts, drawing_length=11 * FT), unit="m")
    assert guard.text == "The drawing states 3.3528 m, its sections add up to 3.048 m."


def test_missing_facts_are_said():
    assert keys(run()) == [("warning", "no sections")]
    assert keys(run(elbow(), cable=replace(CABLE, diameter=None))) == [("warning", "bends not counted")]
    assert keys(run(elbow(), cable=replace(CABLE, diameter=None), centre_spacing=IN)) == []


def test_conductors_that_cannot_lie_as_listed_are_said():
    conductors = (
        ConductorFacts("A1", 1, 1),
        ConductorFacts("A2", 1, 1),
        ConductorFacts("A3", 3, 1),
        ConductorFacts("D1", 1, 2),
        ConductorFacts("G1", 1, 1),
    )
    assert keys(run(straight(), conductors=conductors)) == [
        ("warning", "unknown tier"),
        ("warning", "unknown conductor"),
        ("warning", "shared position"),
    ]


def test_a_set_is_compared_longest_with_shortest():
    lengths = {"A1": 100 * FT, "A2": 100 * FT + 6 * IN, "A3": 100 * FT + 3 * IN}
    assert unequal_set(lengths, 6 * IN) is None
    guard = unequal_set(lengths, 6 * IN - 1)
    assert guard is not None
    assert guard.text.startswith("A2 is 100' 6\" and A1 is 100' 0\"")
    assert unequal_set({}, 0) is None
    assert unequal_set(lengths, 0, code="other").kind == "note"


def test_notes_name_both_units_of_a_size_on_a_site_in_metres():
    small = replace(GROUND, size="6")
    (note,) = notices(run(straight(), ground_cable=small, breaker_amps=4000), code="other", unit="m")
    # 26.24 and 500 kcmil at 0.5067075 mm² each.
    assert str(note).startswith(
        f"Note: The ground cable {small.code} is 6 AWG, 13.3 mm² Cu: a breaker of 4000 A asks for 500 kcmil, 253 mm²"
    )


def test_an_end_that_nobody_told_is_named():
    (warning,) = notices(replace(run(straight()), ends=(EndFacts("from"),)))
    assert (warning.kind, warning.key) == ("warning", "end not told")
    assert warning.text == "Nobody has told the to end: the run has no cut length until then."
