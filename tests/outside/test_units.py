"""Units, sizes and weights against published values: rows of `values.csv`, or sources named beside the check."""

from decimal import Decimal
from fractions import Fraction
from math import pi

import pytest

from takeoff.units.exact import from_ticks
from takeoff.units.lengths import FOOT, parse_length, show_length
from takeoff.units.measures import contents_mm3, factor, kg_per_km
from takeoff.units.sizes import AWG_KCMIL, KCMIL, MM2_PER_KCMIL, parse_size
from tests.outside.values import value, values


@pytest.mark.parametrize("outside", values("UNIT-01", "UNIT-07"), ids=lambda outside: outside.id)
def test_factors_of_nist_sp_811(outside):
    found = factor(outside.words["unit"], outside.words["other"])
    assert abs(found - Fraction(outside.expected)) <= Fraction(outside.words["within"])


def test_our_foot_is_the_international_one_2_ppm_short_of_the_survey_foot():
    outside = value("UNIT-08")
    feet = outside.words["length_ft"]
    ours = Fraction(from_ticks(parse_length(f"{feet} ft", bare=None)))
    survey = int(feet) * Fraction(1200, 3937) * 1000
    assert float(survey - ours) == pytest.approx(outside.figure, abs=0.01)


@pytest.mark.parametrize("outside", values("UNIT-01", "UNIT-02"), ids=["foot", "inch"])
def test_lengths_use_the_factors_of_nist_sp_811(outside):
    millimetres = from_ticks(parse_length(f"1 {outside.words['unit']}", bare=None))
    assert millimetres == Decimal(outside.expected) * (1000 if outside.words["other"] == "meter" else 1)


def test_pounds_per_1000_ft_in_kilograms_per_kilometre():
    outside = value("UNIT-11")
    assert float(kg_per_km(Decimal(1), "lb/kft")) == pytest.approx(1.488, abs=0.0005)  # ASTM B232
    assert float(kg_per_km(Decimal(outside.words["lb_per_kft"]), "lb/kft")) == pytest.approx(outside.figure, abs=0.1)


@pytest.mark.parametrize("outside", values("SEAL-01", "SEAL-04"), ids=lambda outside: outside.id)
def test_what_a_cartridge_holds(outside):
    other, within = ("mL", 0.1) if "millilitres" in outside.topic else ("in^3", 0.001)
    contents = contents_mm3(Decimal(outside.words["fl_oz"]), "fl oz")
    assert float(contents / factor(other, "millimeter ** 3")) == pytest.approx(outside.figure, abs=within)


def test_feet_and_inches_of_common_practice():
    twelve, part = value("UNIT-09"), value("UNIT-10")
    assert Fraction(parse_length(twelve.words["text"], bare=None), FOOT) == Fraction(twelve.expected)
    assert parse_length(part.words["text"], bare=None) == parse_length(part.expected, bare=None)
    assert show_length(parse_length(part.words["text"], bare=None), "ft") == '3/4"'
    # 1/16 in is 0.0052083 ft (common practice).
    assert float(Fraction(parse_length('1/16"', bare=None), FOOT)) == pytest.approx(0.0052083, abs=5e-8)


@pytest.mark.parametrize("outside", values("COND-15", "COND-21"), ids=lambda outside: outside.id)
def test_cross_sections_in_square_millimetres(outside):
    of_kcmil = {kcmil: name for name, kcmil in AWG_KCMIL.items()}
    kcmil = outside.exact("cmil") / 1000
    assert Fraction(outside.words["mm2_per_cmil"]) * 1000 == MM2_PER_KCMIL
    size = parse_size(of_kcmil.get(kcmil, str(kcmil)))
    assert float(size.area_mm2) == pytest.approx(outside.figure, abs=0.01)


@pytest.mark.parametrize("outside", values("COND-07", "COND-14"), ids=lambda outside: outside.id)
def test_bare_conductors_weigh_their_cross_section_times_their_density(outside):
    if "density_g_cm3" in outside.words:
        density, within = outside.exact("density_g_cm3"), 0.004
    else:
        per_mm3 = factor("lb", "kg") * 10**6 / factor("in^3", "millimeter ** 3")  # g/cm³ of 1 lb/in³
        density, within = outside.exact("density_lb_in3") * per_mm3, 0.003
    # 1 mm² of 1 g/cm³ weighs 1 kg/km; the lay makes each wire longer than the conductor.
    weight = parse_size(outside.words["size"]).area_mm2 * density * outside.exact("lay_factor")
    assert float(kg_per_km(Decimal(outside.expected), "lb/kft")) == pytest.approx(float(weight), rel=within)


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
