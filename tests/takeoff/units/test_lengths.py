"""Lengths as people write them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.units.exact import to_ticks
from takeoff.units.lengths import (
    FOOT,
    INCH,
    SIXTEENTH,
    LengthError,
    length_unit,
    parse_length,
    parse_number,
    show_length,
)

MILLIMETRE = 10_000
FOUR_METRES_AND_MORE = 12 * FOOT + 6 * INCH + INCH // 2


@pytest.mark.parametrize(
    "text",
    [
        "12' 6 1/2\"",
        "12'6 1/2\"",
        "12'-6 1/2\"",
        "12'-6-1/2\"",
        "12 ' 6.5 \"",
        "12' 6 1/2",
        "12' 6½\"",
        "12′ 6½″",
        "12’ 6 ½”",
        "12' 6 1/2''",
        "12-6 1/2",
        "12-6.5",
        "12–6 1/2",
        "12 ft 6 1/2 in",
        "12 ft. 6.5 in.",
        "12FT 6.5IN",
        "12 feet 6 1/2 inches",
        " 12\u00a0ft  6\u202f1⁄2  in ",
        "150 1/2 in",
        '150.5"',
        "3822.7 mm",
        "3.8227 m",
        "382.27 cm",
    ],
)
def test_one_length_has_many_spellings(text):
    assert parse_length(text, bare=None) == FOUR_METRES_AND_MORE


@pytest.mark.parametrize(
    ("text", "bare", "ticks"),
    [
        ("187.5", "ft", 187 * FOOT + 6 * INCH),
        ("187.5", "m", 187_500 * MILLIMETRE),
        ("6 1/2", "in", 6 * INCH + INCH // 2),
        ("1/2", "ft", 6 * INCH),
        (".5", "ft", 6 * INCH),
        ("0", "ft", 0),
        ("12-6", "m", 12 * FOOT + 6 * INCH),  # feet and inches, whatever the site counts in
        ("-3 in", "ft", -3 * INCH),
        ("12' 1/2\"", "ft", 12 * FOOT + INCH // 2),
        ("0' 0\"", "ft", 0),
        ("1/3 ft", "ft", 4 * INCH),  # a fraction stays one until the end
    ],
)
def test_a_bare_number_takes_the_unit_that_is_given(text, bare, ticks):
    assert parse_length(text, bare=bare) == ticks


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("6-1/2", 'either 6 1/2" or 6\' 0 1/2": both can be meant'),
        ("12' 12\"", "inches below 12 after feet"),
        ("12' 6 3/2\"", "a fraction below one after the whole number"),
        ("1/0 in", "a fraction whose lower number is not 0"),
        ("1/64 in", "a length that is exact to 1/10 000 mm: 1/16 in or 1/32 in, 0.001 in, 0.001 ft or 0.1 mm are"),
        ("999999999999 m", "a length that can be built"),
    ],
)
def test_what_can_be_meant_in_two_ways_or_not_at_all_is_refused_with_the_reason(text, expected):
    with pytest.raises(LengthError) as refused:
        parse_length(text, bare="ft")
    assert (refused.value.found, refused.value.expected) == (text, expected)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "-",
        "ft",
        "'",
        "12 6",
        "12' 6' 3",
        "12..5",
        "1e3",
        "12 m 6 mm",
        "12.5' 6\"",
        "nan",
        "inf",
        "1,200",
        "٣ ft ft",
    ],
)
def test_what_is_no_length_is_refused(text):
    with pytest.raises(LengthError, match="expected a length such as 12' 6 1/2"):
        parse_length(text, bare="ft")


def test_a_bare_number_is_refused_where_a_unit_is_needed():
    with pytest.raises(LengthError, match="expected a length with its unit, such as 6 1/2 in"):
        parse_length("36", bare=None)


def test_an_unknown_unit_is_named():
    with pytest.raises(LengthError, match="'yd' is no unit of length here"):
        parse_length("3 yd", bare="ft")


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_a_clear_refusal(text):
    try:
        ticks = parse_length(text, bare="ft")
    except LengthError:
        return
    assert parse_length(show_length(ticks, "ft"), bare=None) == ticks


@pytest.mark.parametrize(
    ("ticks", "feet", "metres"),
    [
        (0, '0"', "0 mm"),
        (SIXTEENTH, '1/16"', "1.5875 mm"),
        (FOUR_METRES_AND_MORE, "12' 6 1/2\"", "3.8227 m"),
        (12 * FOOT, "12' 0\"", "3.6576 m"),
        (12 * FOOT + INCH // 2, "12' 0 1/2\"", "3.6703 m"),
        (-3 * INCH, '-3"', "-76.2 mm"),
        (to_ticks("31.242"), "1.23 in", "31.242 mm"),
        (to_ticks("3761.232"), "12.34 ft", "3.761232 m"),
        (to_ticks("3000.0001"), "3000.0001 mm", "3.0000001 m"),
    ],
)
def test_a_length_is_shown_by_the_habit_of_the_site(ticks, feet, metres):
    assert (show_length(ticks, "ft"), show_length(ticks, "m")) == (feet, metres)


@given(ticks=st.integers(-(10**13), 10**13), unit=st.sampled_from(["ft", "m"]))
def test_what_is_shown_reads_back_as_the_same_length(ticks, unit):
    assert parse_length(show_length(ticks, unit), bare=None) == ticks


@given(
    count=st.integers(-(10**6), 10**6),
    step=st.sampled_from([SIXTEENTH, FOOT // 100, MILLIMETRE]),
    unit=st.sampled_from(["ft", "m"]),
)
def test_sixteenths_hundredths_of_a_foot_and_millimetres_read_back(count, step, unit):
    assert parse_length(show_length(count * step, unit), bare=None) == count * step


@given(st.integers(0, 10**5))
def test_sixteenths_are_shown_in_feet_and_inches(count):
    assert show_length(count * SIXTEENTH, "ft").endswith('"')


def test_a_site_counts_in_feet_or_metres_only():
    with pytest.raises(ValueError, match="a site's unit is ft or m, not 'yd'"):
        show_length(1, "yd")


def test_a_number_cell_is_exact_or_refused():
    assert parse_number(12, bare="ft") == 12 * FOOT
    with pytest.raises(LengthError):
        parse_number(Decimal("0.00001"), bare="ft")


@pytest.mark.parametrize(("text", "unit"), [("Feet", "ft"), ("in.", "in"), ("″", "in"), ("mm", "mm"), ("yd", None)])
def test_units_of_length_have_a_few_spellings(text, unit):
    assert length_unit(text) == unit


def test_a_narrow_space_before_a_fraction_is_no_group():
    assert parse_length("12\u202f125/1000 in", bare=None) == 12 * INCH + INCH // 8


@pytest.mark.parametrize("text", ["² ft", "3² ft", "① ft"])
def test_raised_and_ringed_figures_are_no_numbers(text):
    with pytest.raises(LengthError):
        parse_length(text, bare=None)
