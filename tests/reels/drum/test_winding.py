import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reels.drum.weight import WEIGHT_ACCURACY, Build, length_from_weight, minimum_drum, weight_of_length
from reels.drum.winding import (
    NEMA_ACCURACY,
    SIMPLE_ACCURACY,
    TURNS_ACCURACY,
    WOUND_DIAMETER_ACCURACY,
    Drum,
    capacity,
    length_from_turns,
    length_from_wound_diameter,
    length_of_layer,
    round_half_up,
    simple_capacity_feet,
)
from tests.source import ROOT


@pytest.mark.parametrize(("number", "rounded"), [(0.5, 1), (1.5, 2), (2.5, 3), (2.49, 2), (13.0, 13)])
def test_halves_round_up(number, rounded):
    assert round_half_up(number) == rounded


@pytest.mark.parametrize("sizes", [(0, 30, 24), (48, 0, 24), (48, 30, 0), (24, 30, 24), (20, 30, 24)])
def test_a_drum_with_impossible_sizes_is_refused(sizes):
    with pytest.raises(ValueError):
        Drum(*sizes)


def test_a_cable_too_thick_for_the_flange_does_not_fit():
    assert capacity(Drum(26, 30, 24), 1.0).length == 0


@given(st.floats(24, 48), st.floats(24, 48))
def test_more_wound_cable_is_never_shorter(one, other):
    drum = Drum(48, 30, 24)
    less, more = sorted((one, other))
    assert length_from_wound_diameter(drum, 1.02, less) <= length_from_wound_diameter(drum, 1.02, more)


def test_a_bare_drum_holds_nothing():
    assert length_from_wound_diameter(Drum(48, 30, 24), 1.02, 24) == 0


@pytest.mark.parametrize("wound", [23.9, 48.1])
def test_a_wound_diameter_off_the_reel_is_refused(wound):
    with pytest.raises(ValueError, match="between drum 24 and flange 48"):
        length_from_wound_diameter(Drum(48, 30, 24), 1.02, wound)


def test_counted_layers_agree_with_the_wound_diameter():
    # Ten nested layers of the turns that the wound-diameter form assumes: 24 + 10 x 1.9 x 1.02 = 43.38 in.
    turns = 0.95 * 30 / 1.02
    counted = length_from_turns(24, 1.02, 10, turns)
    wound = length_from_wound_diameter(Drum(48, 30, 24), 1.02, 24 + 10 * 1.9 * 1.02)
    assert counted == pytest.approx(wound, rel=0.01)


def test_the_layer_above_the_full_ones_counts_its_own_turns():
    full = length_from_turns(24, 1, 2, 30)
    assert length_from_turns(24, 1, 2, 30, outermost=15) - full == pytest.approx(3.14159265 * (25 + 2 * 1.9) * 15)
    assert length_from_turns(24, 1, 1, 30) == pytest.approx(length_of_layer(24, 1, 1, 30))


@pytest.mark.parametrize("layer", [0, -1])
def test_layers_count_from_one(layer):
    with pytest.raises(ValueError, match="count from 1"):
        length_of_layer(24, 1, layer, 10)


@given(st.floats(1, 10_000), st.floats(10, 5000), st.floats(0, 1000))
def test_weight_and_length_are_each_others_inverse(length, per_thousand, tare):
    gross = weight_of_length(length, per_thousand, tare)
    assert length_from_weight(gross, tare, per_thousand) == pytest.approx(length, rel=1e-6, abs=1e-6)


def test_a_reel_lighter_than_its_tare_is_refused():
    with pytest.raises(ValueError, match="cannot weigh less than its tare"):
        length_from_weight(200, 250, 1260)


@pytest.mark.parametrize(
    "call",
    [
        lambda: capacity(Drum(48, 30, 24), 0),
        lambda: minimum_drum(0, Build.TAPE_SHIELDED),
        lambda: length_from_weight(1, 0, 0),
        lambda: weight_of_length(-1, 653),
        lambda: simple_capacity_feet(0, 20, 18, 0.9),
        lambda: length_from_turns(24, 1, -1, 30),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError):
        call()


@pytest.mark.parametrize(
    ("way", "accuracy"),
    [
        ("weight", WEIGHT_ACCURACY),
        ("wound diameter", WOUND_DIAMETER_ACCURACY),
        ("turns and layers", TURNS_ACCURACY),
        ("capacity", NEMA_ACCURACY),
        ("simple rule", SIMPLE_ACCURACY),
    ],
)
def test_each_way_is_as_accurate_as_the_documentation_says(way, accuracy):
    said = re.search(rf"^\| {way}\b.*\|[^|]*?(\d+) %[^|]*\|$", (ROOT / "docs/reels.md").read_text(), re.MULTILINE)
    assert accuracy * 100 == pytest.approx(int(said[1]))
