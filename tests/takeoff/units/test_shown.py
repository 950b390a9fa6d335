"""Numbers, money, dates and lengths are written in one place, and nothing is lost in writing them."""

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.units.country import habit_of
from takeoff.units.exact import LARGEST, from_ticks
from takeoff.units.lengths import FOOT, parse_length
from takeoff.units.money import minor_digits
from takeoff.units.shown import (
    day_month_year,
    decimal,
    down,
    exactly,
    fixed,
    money,
    near,
    number,
    percent,
    rough,
    typed,
    up,
    write_as_in,
    written_as_in,
)

GROUPED = re.compile(r"−?\d{1,3}(\u202f\d{3})*(\.\d*[1-9])?")


@given(st.integers(-LARGEST, LARGEST))
def test_a_number_is_written_in_groups_of_three_and_reads_back_exactly(ticks):
    written = number(ticks)
    assert GROUPED.fullmatch(written)
    assert Decimal(written.replace("\u202f", "").replace("−", "-")) == from_ticks(ticks)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (0, "0"),
        (-1000, "−1\u202f000"),
        (Decimal("1E+3"), "1\u202f000"),
        (Decimal("2.50"), "2.5"),
        (Decimal("0.123456"), "0.123456"),
    ],
)
def test_a_decimal_keeps_its_places_but_no_trailing_zeros(value, written):
    assert decimal(value) == written


@pytest.mark.parametrize(
    ("fraction", "written"),
    [
        (Fraction(95, 100), "95 %"),
        (Decimal("0.999"), "99.9 %"),
        (Fraction(1, 3), "33.33 %"),
        (Fraction(12), "1\u202f200 %"),
    ],
)
def test_a_percentage_is_written_to_a_hundredth(fraction, written):
    assert percent(fraction) == written


# ISO 4217, list one: the minor unit of each currency.
@pytest.mark.parametrize(
    ("currency", "digits"),
    [
        *[(currency, 2) for currency in ("USD", "EUR", "NOK", "GBP")],
        *[(currency, 0) for currency in ("JPY", "KRW", "CLP", "ISK", "XOF")],
        *[(currency, 3) for currency in ("KWD", "BHD", "JOD", "OMR", "TND", "LYD")],
    ],
)
def test_a_currency_has_the_decimal_places_that_the_standard_gives_it(currency, digits):
    assert minor_digits(currency) == digits


def test_money_is_written_with_all_places_of_its_currency():
    assert money(1_234_500, "EUR") == "12\u202f345.00 EUR"
    assert money(-5, "USD") == "−0.05 USD"
    assert money(1_234_500, "JPY") == "1\u202f234\u202f500 JPY"
    assert money(1_234_500, "KWD") == "1\u202f234.500 KWD"


def test_a_day_is_written_with_its_month_in_letters():
    assert day_month_year(date(2026, 9, 5)) == "5 Sep 2026"
    assert day_month_year(datetime(2026, 12, 31, 23, 59, tzinfo=UTC)) == "31 Dec 2026"


@pytest.mark.parametrize(
    ("ticks", "unit", "to", "written"),
    [
        (1250 * FOOT + 1, "ft", ceil, "1\u202f250.1 ft"),
        (1250 * FOOT + 1, "ft", floor, "1\u202f250 ft"),
        (1250 * FOOT + 1, "ft", round, "1\u202f250 ft"),
        (12_345_678, "m", ceil, "1.24 m"),
        (12_345_678, "m", floor, "1.23 m"),
        (0, "m", round, "0 m"),
    ],
)
def test_a_rough_length_is_rounded_the_way_that_is_asked_for(ticks, unit, to, written):
    assert rough(ticks, unit, to) == written


@pytest.mark.parametrize(
    ("plain", "unit", "told"),
    [
        ("14145' 1 3/8\"", "ft", "14\u202f145' 1 3/8\""),
        ("1234567.8901 m", "m", "1\u202f234\u202f567.8901 m"),
        ("-12000.25 ft", "ft", "-12\u202f000' 3\""),
        ("999' 11\"", "ft", "999' 11\""),
        ("62.5 mm", "m", "62.5 mm"),
    ],
)
def test_long_lengths_are_told_in_groups_that_read_back(plain, unit, told):
    assert exactly(parse_length(plain, bare=None), unit) == told
    assert parse_length(told, bare=None) == parse_length(plain, bare=None)


@given(st.integers(-(10**15), 10**15), st.sampled_from(["ft", "m"]))
def test_every_length_reads_back_from_its_groups(ticks, unit):
    assert parse_length(exactly(ticks, unit), bare=None) == ticks


# As the countries print them: see the sources in test_country.py; India: 12,34,567.5 (Bureau of Indian Standards).
@pytest.mark.parametrize(
    ("country", "told"),
    [
        ("", "1\u202f234\u202f567.5"),
        ("US", "1,234,567.5"),
        ("DE", "1.234.567,5"),
        ("NO", "1\u00a0234\u00a0567,5"),
        ("IN", "12,34,567.5"),
    ],
)
def test_numbers_are_written_as_a_country_does(country, told):
    with written_as_in(country):
        assert decimal(Decimal("1234567.50")) == told
        assert decimal(-5) == "−5"
    assert decimal(Decimal("1234.5")) == "1\u202f234.5", "only there"


def test_money_ratios_percentages_and_lengths_are_written_as_a_country_does():
    with written_as_in("DE"):
        assert money(1_234_567, "EUR") == "12.345,67 EUR"
        assert money(1_234_567, "JPY") == "1.234.567 JPY"
        assert fixed(Decimal("1.5"), 2) == "1,50"
        assert percent(Decimal("0.999")) == "99,9 %"
        assert near(32_000_000, "m") == "3,2 m"
        assert rough(1250 * FOOT, "ft") == "1.250 ft"
    with written_as_in("US"):
        assert near(1250 * FOOT + 15_875, "ft") == "1,250' 0 1/16\""


def test_a_prime_never_stands_between_the_thousands_of_a_length():
    with written_as_in("CH"):
        assert decimal(1234) == "1'234"
        assert exactly(1234 * 10_000_000, "m") == "1\u202f234 m"


def test_a_country_lasts_until_the_end_of_its_block():
    with written_as_in(""):
        write_as_in("DE")
        assert decimal(1234) == "1.234"
    assert decimal(1234) == "1\u202f234"


SITES = st.sampled_from(["", "US", "DE", "NO", "CH", "IN", "FR", "BR"])


@given(SITES, st.integers(0, 10**12))
def test_what_a_page_writes_a_form_reads_as_its_country_does(country, ticks):
    """Babel writes seven digits and more of Switzerland without groups; where no country is told, none are read."""
    with written_as_in(country):
        told = number(ticks)
    if country:
        assert Decimal(habit_of(country).number(told)) == from_ticks(ticks)
    assert Decimal(habit_of(country).number(typed(from_ticks(ticks), country))) == from_ticks(ticks)


@pytest.mark.parametrize(
    ("write", "ticks", "unit", "told"),
    [
        # 7.88 in are 2 001 520 ticks and no whole number of sixteenths; from a foot on the nearest sixteenth is told.
        (near, 2_001_520, "ft", "7.88 in"),
        (near, 3 * FOOT, "ft", "3' 0\""),
        (near, 3 * FOOT + 100, "ft", "3' 0\""),
        (near, 3 * FOOT + 8_000, "ft", "3' 0 1/16\""),
        (near, 12_345_678, "m", "1.2346 m"),
        # One tick above 3 ft, and above 3 m: up to the next sixteenth or millimetre, down to the last.
        (up, 3 * FOOT + 1, "ft", "3' 0 1/16\""),
        (down, 3 * FOOT + 1, "ft", "3' 0\""),
        (up, 30_000_001, "m", "3.001 m"),
        (down, 30_000_001, "m", "3 m"),
    ],
)
def test_a_length_is_rounded_to_what_a_tape_shows_in_its_direction(write, ticks, unit, told):
    assert write(ticks, unit) == told
