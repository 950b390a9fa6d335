"""What a length as built can be."""

import pytest

from takeoff.runs.geometry.as_built import LONGEST, far_off, most

FT = 3_048_000


@pytest.mark.parametrize(
    ("measured", "drawn", "unit", "told"),
    [
        (10 * FT, FT, "ft", ""),
        (10 * FT + 1, FT, "ft", "at most 10 times the drawn 1' 0\""),
        (10 * FT + 1, FT, "m", "at most 10 times the drawn 304.8 mm"),
        (LONGEST, 0, "m", ""),
        (LONGEST + 1, 0, "m", "at most 10 km"),
        (LONGEST + 1, FT, "m", "at most 10 km"),
    ],
)
def test_a_length_is_refused_beyond_what_can_be_built(measured, drawn, unit, told):
    assert most(measured, drawn, unit=unit) == told


@pytest.mark.parametrize(
    ("measured", "drawn", "looks"),
    [(110, 100, False), (111, 100, True), (90, 100, False), (89, 100, True), (5, 0, False)],
)
def test_a_length_ten_per_cent_off_is_looked_at_again(measured, drawn, looks):
    assert far_off(measured, drawn) is looks
