"""Numbers, money, dates and lengths are written in one place, and nothing is lost in writing them."""

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.units.exact import LARGEST, from_ticks
from takeoff.units.lengths import FOOT
from takeoff.units.money import minor_digits
from takeoff.units.shown import day_month_year, decimal, money, number, percent, rough

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
