"""Volumes, weights and percentages as people write them."""

from decimal import Decimal
from fractions import Fraction

import pytest

from takeoff.units.measures import (
    VOLUME_SPELLINGS,
    Measure,
    MeasureError,
    contents_mm3,
    factor,
    kg_per_km,
    kilograms,
    parse_percent,
    parse_volume,
    parse_weight,
    parse_weight_per_length,
)


@pytest.mark.parametrize("spelling", sorted(VOLUME_SPELLINGS))
def test_every_spelling_of_a_volume_reads(spelling):
    assert parse_volume(f"10.1 {spelling.upper()}") == Measure(Decimal("10.1"), VOLUME_SPELLINGS[spelling])


@pytest.mark.parametrize(
    "text", ["10.1 oz", "10 fl", "300", "3 gallons ** 2", "fl oz", "-3 mL", "1e3 mL", "__import__", ""]
)
def test_what_is_no_volume_is_refused(text):
    with pytest.raises(MeasureError) as refused:
        parse_volume(text)
    assert refused.value.expected == "a volume such as 10.1 fl oz, 18.2 in^3, 300 mL or 0.3 L"


def test_a_fifth_decimal_place_is_refused():
    with pytest.raises(MeasureError, match="at most four decimal places"):
        parse_volume("10.00001 mL")


def test_weights_read_in_pounds_and_kilograms():
    assert parse_weight("250 lbs") == Measure(Decimal(250), "lb")
    assert parse_weight("113.4", bare="kg") == Measure(Decimal("113.4"), "kg")
    assert parse_weight_per_length("1544 lb/1000 ft") == Measure(Decimal(1544), "lb/kft")
    with pytest.raises(MeasureError, match="found '250 oz', expected a weight such as 250 lb or 113 kg"):
        parse_weight("250 oz")


@pytest.mark.parametrize(
    ("text", "fraction"),
    [("5%", "0.05"), ("0.05", "0.05"), ("12.5 %", "0.125"), ("0", "0"), ("150%", "1.5"), (".5%", "0.005")],
)
def test_a_percentage_says_so_or_is_a_fraction(text, fraction):
    assert parse_percent(text) == Decimal(fraction)


@pytest.mark.parametrize("text", ["5", "1", "1.0", "100", "five", "", "%", "0.00001%", "5 % 6"])
def test_a_bare_number_of_one_or_more_is_no_percentage(text):
    with pytest.raises(MeasureError):
        parse_percent(text)


def test_contents_are_exact_in_cubic_millimetres():
    cubic_inch = Fraction(254, 10) ** 3
    assert contents_mm3(Decimal(1), "fl oz") == Fraction(231, 128) * cubic_inch
    assert contents_mm3(Decimal("10.1"), "fl oz") == Fraction(101, 10) * Fraction(231, 128) * cubic_inch
    assert contents_mm3(Decimal(1), "in^3") == cubic_inch
    assert contents_mm3(Decimal(310), "mL") == 310_000
    assert contents_mm3(Decimal("0.31"), "L") == 310_000


def test_factors_are_exact():
    assert factor("fl oz", "in^3") == Fraction(231, 128)
    assert kilograms(Decimal(1), "lb") == Fraction("0.45359237")
    assert kilograms(Decimal(7), "kg") == 7
    assert kg_per_km(Decimal(1000), "lb/kft") == Fraction("453.59237") / Fraction("0.3048")
