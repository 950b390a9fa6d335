"""
Units against published values.

NIST SP 811, "Guide for the Use of the International System of Units", Appendix B, prints the factors; the two rows that
are computed say from what. Feet-inch notation is common practice.
"""

from decimal import Decimal
from fractions import Fraction
from math import pi

import pytest

from takeoff.units.exact import from_ticks
from takeoff.units.lengths import FOOT, parse_length, show_length
from takeoff.units.measures import factor, kg_per_km
from takeoff.units.sizes import AWG_KCMIL, KCMIL, MM2_PER_KCMIL, parse_size


@pytest.mark.parametrize(
    ("unit", "other", "printed", "within"),
    [
        ("foot", "meter", "0.3048", "0"),  # exact there
        ("inch", "millimeter", "25.4", "0"),  # exact there
        ("survey_foot", "meter", "0.3048006", "0.00000005"),
        ("lb", "kg", "0.4535924", "0.00000005"),
        ("fl oz", "mL", "29.57353", "0.000005"),
        ("circular_mil", "millimeter ** 2", "0.0005067075", "0.00000000005"),
        ("force_pound", "newton", "4.448222", "0.0000005"),
        ("force_pound * foot", "newton * meter", "1.355818", "0.0000005"),
    ],
)
def test_factors_of_nist_sp_811(unit, other, printed, within):
    assert abs(factor(unit, other) - Fraction(printed)) <= Fraction(within)


def test_our_foot_is_the_international_one_2_ppm_short_of_the_survey_foot():
    # NIST SP 811: the survey foot is 1200/3937 m; 10 000 ft differ by 6.10 mm.
    ours = Fraction(from_ticks(parse_length("10000 ft", bare=None)))
    survey = 10_000 * Fraction(1200, 3937) * 1000
    assert float(survey - ours) == pytest.approx(6.10, abs=0.01)


def test_lengths_use_the_factors_of_nist_sp_811():
    assert from_ticks(parse_length("1 ft", bare=None)) == Decimal("304.8")
    assert from_ticks(parse_length("1 in", bare=None)) == Decimal("25.4")


def test_pounds_per_1000_ft_in_kilograms_per_kilometre():
    # ASTM B232: 1 lb/1000 ft = 1.488 kg/km; 500 kcmil copper weighs 1544 lb/1000 ft (ASTM B8): 2297.7 kg/km.
    assert float(kg_per_km(Decimal(1), "lb/kft")) == pytest.approx(1.488, abs=0.0005)
    assert float(kg_per_km(Decimal(1544), "lb/kft")) == pytest.approx(2297.7, abs=0.1)


def test_feet_and_inches_of_common_practice():
    # 12'-6 3/4" is 12.5625 ft; 0.0625 ft is 3/4 in; 1/16 in is 0.0052083 ft.
    assert Fraction(parse_length("12'-6 3/4\"", bare=None), FOOT) == Fraction("12.5625")
    assert parse_length("0.0625 ft", bare=None) == parse_length("0'-0 3/4\"", bare=None)
    assert show_length(parse_length("0.0625 ft", bare=None), "ft") == '3/4"'
    assert float(Fraction(parse_length('1/16"', bare=None), FOOT)) == pytest.approx(0.0052083, abs=5e-8)


@pytest.mark.parametrize(
    ("size", "mm2"),
    # Circular mils of the size times NIST SP 811's 5.067075E-04 mm².
    [
        ("1/0", 53.51),
        ("4/0", 107.22),
        ("250", 126.68),
        ("350", 177.35),
        ("500", 253.35),
        ("750", 380.03),
        ("1000", 506.71),
    ],
)
def test_cross_sections_in_square_millimetres(size, mm2):
    assert float(parse_size(size).area_mm2) == pytest.approx(mm2, abs=0.01)


@pytest.mark.parametrize(
    ("size", "printed"),
    # NFPA 70 Chapter 9 Table 8 prints these, rounded (from memory).
    [
        ("6", "13.30"),
        ("4", "21.15"),
        ("3", "26.67"),
        ("2", "33.62"),
        ("1", "42.41"),
        ("1/0", "53.49"),
        ("2/0", "67.43"),
        ("3/0", "85.01"),
        ("4/0", "107.2"),
        ("250", "127"),
        ("300", "152"),
        ("350", "177"),
        ("400", "203"),
        ("500", "253"),
        ("600", "304"),
        ("700", "355"),
        ("750", "380"),
        ("800", "405"),
        ("900", "456"),
        ("1000", "507"),
        ("1250", "633"),
    ],
)
def test_the_metric_value_that_the_code_prints_is_the_same_size(size, printed):
    assert parse_size(f"{printed} mm2") == parse_size(size)


@pytest.mark.parametrize("metric", [16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400, 500, 630])
def test_no_metric_size_is_taken_for_an_american_one(metric):
    # The series of IEC 60228 (from memory): the nearest American sizes differ, 250 kcmil being 127 mm², not 120.
    names = [*AWG_KCMIL, *map(str, KCMIL)]
    assert parse_size(f"{metric} mm2").area_mm2 == metric
    assert parse_size(f"{metric} mm2") not in {parse_size(name) for name in names}


@pytest.mark.parametrize("gauge", list(AWG_KCMIL))
def test_gauges_follow_their_definition(gauge):
    # ASTM B258: diameter 0.005 in × 92^((36 − n)/39); tables print the area to three or four figures.
    number = 1 - int(gauge[0]) if gauge.endswith("/0") else int(gauge)
    mils = 5 * 92 ** ((36 - number) / 39)
    assert float(AWG_KCMIL[gauge]) == pytest.approx(mils**2 / 1000, rel=1e-3)


def test_a_circular_mil_is_the_area_of_a_circle_one_mil_across():
    assert float(MM2_PER_KCMIL) == pytest.approx(1000 * pi / 4 * 0.0254**2, rel=1e-7)
