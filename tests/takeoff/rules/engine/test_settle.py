"""Rounding by run and by site, shares that add up, and the drawing package's own quantities."""

from datetime import date
from fractions import Fraction

from takeoff.rules.engine.quantities import Line, RunTakeoff
from takeoff.rules.engine.settle import Key, Settled, settle, share_rounded
from tests.takeoff.facts import ONE

R1, R2 = Key("R1", "tube", "seals"), Key("R2", "tube", "seals")
COVERS = Key("R1", "tube", "covers")


def takeoffs(**lines: list[Line]) -> dict[str, RunTakeoff]:
    return {name: RunTakeoff(name, tuple(of)) for name, of in lines.items()}


def test_by_run_goes_up_for_every_run_and_stage():
    found = settle(takeoffs(R1=[Line("a", "seals", Fraction(72, 5)), Line("a", "covers", Fraction(3))]), {})
    assert {key.stage: line.quantity for key, line in found.items()} == {"seals": 15 * ONE, "covers": 3 * ONE}


def test_by_site_goes_up_once_and_is_shared():
    lines = takeoffs(
        R1=[Line("tube", "seals", Fraction(1, 3), by_site=True)],
        R2=[Line("tube", "seals", Fraction(4, 3), by_site=True)],
    )
    found = settle(lines, {})
    # 5/3 goes up to 2: a fifth of it is 0.4, four fifths 1.6.
    assert found == {R1: Settled(Fraction(1, 3), 4000, 4000), R2: Settled(Fraction(4, 3), 16_000, 16_000)}


def test_the_rest_of_cut_shares_goes_to_the_last_dated():
    thirds = {R1: Fraction(1, 3), R2: Fraction(1, 3), COVERS: Fraction(1, 3)}
    early, late = date(2026, 3, 1), date(2026, 4, 1)
    dates = {("R1", "seals"): late, ("R2", "seals"): early, ("R1", "covers"): early}
    assert share_rounded(thirds, dates) == {R1: 3334, R2: 3333, COVERS: 3333}
    # A dated run-stage takes it before an undated one; equal dates go by stage, then by run.
    assert share_rounded(thirds, {("R2", "seals"): early}) == {R1: 3333, R2: 3334, COVERS: 3333}
    assert share_rounded(thirds, {("R2", "seals"): None}) == {R1: 3333, R2: 3333, COVERS: 3334}
    assert share_rounded({R1: Fraction(1, 3), R2: Fraction(2, 3)}, {}) == {R1: 3333, R2: 6667}


def test_nothing_shared_out_is_nothing():
    assert share_rounded({R1: Fraction(0)}, {}) == {R1: 0}


def test_what_counts_nothing_gets_no_rest():
    dates = {("R2", "seals"): date(2026, 4, 1)}
    shares = share_rounded({R1: Fraction(1, 3), COVERS: Fraction(2, 3), R2: Fraction(0)}, dates)
    assert shares == {R1: 3333, COVERS: 6667, R2: 0}


def test_the_drawing_package_outranks_the_rule_and_the_computed_stays():
    lines = takeoffs(R1=[Line("a", "seals", Fraction(5, 2))])
    overrides = {Key("R1", "a", "seals"): 7 * ONE, Key("R1", "b", "covers"): 2 * ONE}
    found = settle(lines, {}, overrides)
    assert found == {
        Key("R1", "a", "seals"): Settled(Fraction(5, 2), 3 * ONE, 7 * ONE),
        Key("R1", "b", "covers"): Settled(Fraction(0), 0, 2 * ONE),
    }


def test_an_override_leaves_the_other_shares_as_they_are():
    lines = takeoffs(
        R1=[Line("tube", "seals", Fraction(1, 3), by_site=True)],
        R2=[Line("tube", "seals", Fraction(4, 3), by_site=True)],
    )
    found = settle(lines, {}, {R1: 3 * ONE})
    assert (found[R1].computed, found[R1].quantity, found[R2].quantity) == (4000, 3 * ONE, 16_000)
