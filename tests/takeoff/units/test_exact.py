"""Whole ten-thousandths, in and out."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.units.exact import LARGEST, NotExactError, about_step, about_ticks, from_ticks, to_ticks


@pytest.mark.parametrize(
    ("value", "ticks"),
    [("1.5875", 15_875), (Decimal("-0.0001"), -1), (3, 30_000), (Fraction(1, 16), 625), (Decimal("1E+2"), 1_000_000)],
)
def test_a_number_of_four_places_is_whole_ticks(value, ticks):
    assert to_ticks(value) == ticks


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("0.00001", "more than 4 decimal places; at most 4 are kept"),
        (Fraction(1, 3), "more than 4 decimal places"),
        (0.5, "is not an exact number"),
        (True, "is not an exact number"),
        ("x", "is not a number"),
        ("1/0", "is not a number"),
        (Decimal("NaN"), "is not a number"),
        (Decimal("Infinity"), "is not a number"),
        (from_ticks(LARGEST) + Decimal("0.0001"), "is too large to keep"),
        (-from_ticks(LARGEST) - 1, "is too large to keep"),
    ],
)
def test_what_ticks_cannot_hold_is_refused(value, told):
    with pytest.raises(NotExactError, match=told):
        to_ticks(value)


def test_the_largest_number_of_a_column_is_kept():
    assert to_ticks(from_ticks(LARGEST)) == LARGEST
    assert to_ticks(-from_ticks(LARGEST)) == -LARGEST


@given(st.integers(-(10**15), 10**15))
def test_ticks_come_back_as_they_went(ticks):
    assert to_ticks(from_ticks(ticks)) == ticks
    assert not str(from_ticks(ticks)).endswith(".")


def test_decimals_lose_their_trailing_zeros_and_keep_those_of_whole_numbers():
    assert [str(from_ticks(ticks)) for ticks in (15_000, 1_000_000, -1, 0)] == ["1.5", "100", "-0.0001", "0"]


@pytest.mark.parametrize(
    ("ticks", "step", "about"),
    [
        (1_000_000, 10_000, 1_000_000), (1_000_001, 10_000, 1_010_000), (999_999, 1_000, 1_000_000),
        (100_000, 1_000, 100_000), (99_999, 100, 100_000), (-99_999, 100, -99_900), (0, 100, 0),
    ],
)  # fmt: skip
def test_people_read_three_figures_or_all_whole_ones_rounded_up(ticks, step, about):
    assert (about_step(ticks), about_ticks(ticks)) == (step, about)
