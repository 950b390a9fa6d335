"""How countries write numbers and dates. The habits are checked against what the countries themselves print."""

import pytest

from takeoff.units.country import CountryError, Habit, habit_of

# Norway: 1 234,5 and 11.01.2027 (Språkrådet); Germany: 1.234,5 (DIN 1333) and 11.01.2027 (DIN 5008); the United
# States: 1,234.5 and 01/11/2027; the United Kingdom: 1,234.5 and 11/01/2027; Switzerland: 1'234.5 (Bundeskanzlei).


@pytest.mark.parametrize(
    ("country", "text", "plain"),
    [
        ("NO", "2,42 kg/m", "2.42 kg/m"),
        ("NO", "18 500", "18500"),
        ("NO", "18\u00a0500,5", "18500.5"),
        ("NO", "18\u202f500", "18500"),
        ("NO", "1.500 m", "1.500 m"),
        ("NO", "500 m, 1000 m", "500 m, 1000 m"),
        ("DE", "1.234,5", "1234.5"),
        ("DE", "18.500", "18500"),
        ("DE", "2.420 kg/km", "2420 kg/km"),  # as the country writes it; 2.42 would be 2,42
        ("DE", "1687.5 mL", "1687.5 mL"),  # no thousands, and all that a point can be then
        ("US", "1,544 lb/kft", "1544 lb/kft"),
        ("US", "1,234.5", "1234.5"),
        ("CH", "1'234.5", "1234.5"),
        ("", "12-6 1/2", "12-6 1/2"),
        ("", "500 ft, 1000 ft", "500 ft, 1000 ft"),
    ],
)
def test_numbers_are_read_as_their_country_writes_them(country, text, plain):
    assert habit_of(country).number(text) == plain


@pytest.mark.parametrize(
    ("country", "text", "expected"),
    [
        ("", "2,42", "2.42 with a point before decimals"),
        ("", "18 500", "18500 without spaces"),
        ("US", "2,42 kg/m", "2.42 with a point before decimals (the site's country is United States)"),
        ("US", "18 500", "18500 without spaces (the site's country is United States)"),
        ("DE", "1.23.4", "a number with a comma before decimals (the site's country is Germany)"),
        ("NO", "1.234,5", "a number with a comma before decimals (the site's country is Norway)"),
    ],
)
def test_numbers_that_a_country_does_not_write_so_are_refused_by_name(country, text, expected):
    with pytest.raises(CountryError) as refused:
        habit_of(country).number(text)
    assert refused.value.expected == expected


def test_a_length_that_can_be_thousands_or_decimals_is_refused_as_both():
    with pytest.raises(CountryError, match="either 3048 or 3,048: both can be meant"):
        habit_of("DE").number("3.048 m", length=True)
    assert habit_of("DE").number("3,048 m", length=True) == "3.048 m"
    assert habit_of("CH").number("12'600", length=True) == "12'600", "feet, there"


@pytest.mark.parametrize(
    ("country", "text", "plain"),
    [
        ("NO", "11.01.2027", "2027-01-11"),
        ("NO", "11.01.2027 14:30", "2027-01-11 14:30"),
        ("GB", "01/11/2027", "2027-11-01"),
        ("US", "01/11/2027", "2027-01-11"),
        ("SE", "2027-01-11", "2027-01-11"),
        ("", "2027-01-11", "2027-01-11"),
        ("NO", "soon", "soon"),
    ],
)
def test_dates_are_read_in_the_order_of_their_country(country, text, plain):
    assert habit_of(country).day(text) == plain


@pytest.mark.parametrize(
    ("country", "text", "expected"),
    [
        ("", "01/11/2027", "a date such as 2026-03-04: 01/11/2027 can be two days, since no country is told"),
        ("US", "11.01.2027", "a date such as 2026-03-04, or 03/04/2026 (the site's country is United States)"),
        ("US", "25/12/2027", "a date such as 2026-03-04, or 03/04/2026 (the site's country is United States)"),
        ("NO", "31.02.2027", "a date such as 2026-03-04, or 04.03.2026 (the site's country is Norway)"),
        ("NO", "11.01.27", "a date such as 2026-03-04, or 04.03.2026 (the site's country is Norway)"),
    ],
)
def test_dates_that_can_be_two_days_or_none_are_refused(country, text, expected):
    with pytest.raises(CountryError) as refused:
        habit_of(country).day(text)
    assert refused.value.expected == expected


def test_what_is_no_country_is_refused_and_none_has_no_habit():
    with pytest.raises(ValueError, match="'XX' is no country"):
        habit_of("XX")
    assert habit_of("") == Habit()
