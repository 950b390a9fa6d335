"""What of a run decides whether a rule applies."""

from fractions import Fraction

import pytest

from takeoff.rules.engine.rule import RunKind, SizeBand, Tally, Traits
from takeoff.runs.geometry.facts import CableFacts
from takeoff.units.sizes import parse_size
from tests.takeoff.facts import GROUND, run, straight


@pytest.mark.parametrize(
    ("band", "held"),
    [
        (SizeBand(None, None), [1, 5, 9]),
        (SizeBand(Fraction(5), None), [5, 9]),
        (SizeBand(Fraction(5), None, above_low=True), [9]),
        (SizeBand(None, Fraction(5)), [1, 5]),
        (SizeBand(Fraction(1), Fraction(5), above_low=True), [5]),
        (SizeBand(Fraction(1), Fraction(5)), [1, 5]),
    ],
)
def test_bands_touch_and_hold_a_size_once(band, held):
    assert [size for size in (1, 5, 9) if band.holds(Fraction(size))] == held
    assert not band.holds(None)


def test_each_condition_on_things_is_held_against_its_own_trait():
    traits = Traits("elbow", "vertical", "caulked", 2, True, "wall")
    assert Tally("x", "each").takes(traits)
    for right, wrong in (
        ({"kinds": frozenset({"elbow"})}, {"kinds": frozenset({"tee"})}),
        ({"lies": frozenset({"vertical"})}, {"lies": frozenset({"horizontal"})}),
        ({"seals": frozenset({"caulked"})}, {"seals": frozenset({"moulded"})}),
        ({"holes": frozenset({2})}, {"holes": frozenset({4})}),
        ({"fire_rated": True}, {"fire_rated": False}),
        ({"crossing_kinds": frozenset({"wall"})}, {"crossing_kinds": frozenset({"floor"})}),
    ):
        assert Tally("x", "each", **right).takes(traits)
        assert not Tally("x", "each", **wrong).takes(traits)


def test_a_run_without_ground_cables_has_no_ground_size():
    kind = RunKind.of(run(straight()))
    assert (kind.has_ground, kind.ground) == (True, parse_size(GROUND.size).area_mm2)
    assert (kind.tiers, kind.cable) == (2, parse_size("500").area_mm2)
    bare = RunKind.of(run(straight(), ground_cables=0))
    assert (bare.has_ground, bare.ground) == (False, None)
    unnamed = RunKind.of(run(straight(), ground_cable=None))
    assert (unnamed.has_ground, unnamed.ground) == (True, None)
    assert RunKind.of(run(straight(), ground_cable=CableFacts("g", "4/0", "Cu"))).ground == parse_size("4/0").area_mm2
