"""Units behind a number."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.units.unit_words import unit_for


@pytest.mark.parametrize(
    ("unit", "several"),
    [
        ("cartridge", "cartridges"),
        ("stick", "sticks"),
        ("box", "boxes"),
        ("batch", "batches"),
        ("assembly", "assemblies"),
        ("tray", "trays"),
        ("foot", "feet"),
        ("pieces", "pieces"),
        ("each", "each"),
        ("ft", "ft"),
        ("kg", "kg"),
        ("lbs", "lbs"),
        ("mL", "mL"),
        ("fl oz", "fl oz"),
        ("Rolle", "Rolle"),
        ("", ""),
    ],
)
def test_only_a_plain_word_takes_a_plural(unit, several):
    assert unit_for(unit, 70_000) == several
    assert unit_for(unit, 10_000) == unit


@pytest.mark.parametrize("ticks", [0, 5_000, 15_000, 9_999], ids=["none", "half", "one and a half", "nearly one"])
def test_all_but_exactly_one_is_several(ticks):
    assert unit_for("can", ticks) == "cans"


@given(unit=st.text(max_size=20), ticks=st.integers())
def test_whatever_a_planner_calls_it_a_unit_keeps_its_beginning(unit, ticks):
    assert unit_for(unit, ticks)[:1] == unit[:1]
    assert unit_for(unit_for(unit, ticks), 10_000) == unit_for(unit, ticks)
