"""
Reel arithmetic against what others published.

Each row names its source. "Printed" means that the expected figure itself stands there, "computed" that only the rule
or the data do.
"""

import math
from fractions import Fraction

import pytest

from reels.drum.weight import Build, length_from_weight, minimum_drum, weight_of_length
from reels.drum.winding import (
    WOUND_DIAMETER_ACCURACY,
    Drum,
    capacity,
    clearance,
    length_from_wound_diameter,
    length_of_layer,
    reel_constant,
    simple_capacity_feet,
)
from reels.ledger.marks.line import CutMarks, ReelMarks, reel_books
from takeoff.units.exact import to_ticks

FOOT = 3_048_000  # ticks of 1/10 000 mm; the international foot is 0.3048 m exactly (NIST SP 811, App. B.8)

# Computed by the NEMA WC 26 capacity method (formula as printed in a cable engineering guide), sizes in inches:
# flange, traverse, drum, cable diameter, clearance, layers, turns, feet.
NEMA_CAPACITY = [
    (50, 32, 21, 0.528, 1.0, 27, 58, 14162),
    (50, 32, 21, 1.02, 1.02, 14, 30, 3801),
    (50, 32, 21, 1.08, 1.08, 13, 28, 3272),
    (48, 30, 24, 1.02, 1.02, 11, 28, 2795),
    (48, 30, 24, 0.943, 1.0, 12, 30, 3275),
    (60, 36, 28, 1.23, 1.23, 13, 28, 4116),
    (72, 36, 36, 1.387, 1.387, 13, 25, 4521),
    (84, 36, 42, 1.644, 1.644, 12, 21, 4007),
]


@pytest.mark.parametrize(("flange", "traverse", "drum", "cable", "clear", "layers", "turns", "feet"), NEMA_CAPACITY)
def test_capacity_by_the_nema_method(flange, traverse, drum, cable, clear, layers, turns, feet):
    holds = capacity(Drum(flange, traverse, drum), cable)
    assert clearance(cable) == clear
    assert (holds.layers, holds.turns) == (layers, turns)
    assert holds.length / 12 == pytest.approx(feet, abs=1)


def test_capacity_is_the_same_in_millimetres():
    inches = capacity(Drum(72, 36, 36), 1.387)
    metric = capacity(Drum(72 * 25.4, 36 * 25.4, 36 * 25.4), 1.387 * 25.4, inch=25.4)
    assert (metric.layers, metric.turns) == (inches.layers, inches.turns)
    assert metric.length == pytest.approx(inches.length * 25.4)


def test_rounding_moves_the_capacity_by_up_to_six_percent():
    # 72 x 36 x 36, 1.387 in cable: 4521 ft rounded against 4282 ft unrounded (computed, NEMA WC 26 method).
    drum = Drum(72, 36, 36)
    unrounded = length_from_wound_diameter(drum, 1.387, 72 - 2 * 1.387) / 12
    assert unrounded == pytest.approx(4282, abs=1)
    assert capacity(drum, 1.387).length / 12 == pytest.approx(unrounded, rel=0.06)


@pytest.mark.parametrize(("cable", "inches"), [(0.56, 1.0), (1.387, 1.387)])
def test_clearance_is_an_inch_or_a_cable_diameter(cable, inches):
    # Printed: NEMA WC 26 method.
    assert clearance(cable) == inches


def test_simple_rule_gives_the_wire_rope_example():
    # Printed: wire-rope reel-capacity rule with worked example; depth 10, width 20, drum 18 in, 1/2 in rope, K 0.925.
    assert simple_capacity_feet(10, 20, 18, 0.925) == pytest.approx(5180, abs=1)


# Printed: wire-rope reel-capacity table. Rope diameter and oversize in inches (the oversize is inferred), K.
REEL_CONSTANTS = [
    (1 / 4, 1 / 32, 3.29),
    (5 / 16, 1 / 32, 2.21),
    (3 / 8, 1 / 32, 1.58),
    (7 / 16, 1 / 32, 1.19),
    (1 / 2, 1 / 32, 0.925),
    (9 / 16, 1 / 32, 0.741),
    (5 / 8, 1 / 32, 0.607),
    (11 / 16, 1 / 32, 0.506),
    (3 / 4, 1 / 32, 0.428),
    (13 / 16, 3 / 64, 0.354),
    (7 / 8, 3 / 64, 0.308),
    (1, 3 / 64, 0.239),
    (1 + 1 / 8, 3 / 64, 0.191),
    (1 + 1 / 4, 1 / 16, 0.152),
]


@pytest.mark.parametrize(("nominal", "oversize", "printed"), REEL_CONSTANTS)
def test_reel_constants_of_the_wire_rope_table(nominal, oversize, printed):
    assert reel_constant(nominal, oversize) == pytest.approx(printed, rel=0.0075)


# Computed from a wire and cable technical handbook (1996), Table 10.1, after NEMA WC 26: cable and drum in inches.
MINIMUM_DRUMS = [
    (Build.LOW_VOLTAGE, 0.943, 9.43),
    (Build.OVER_2000_V_JACKETED, 1.08, 12.96),
    (Build.OVER_2000_V_CONCENTRIC, 1.2, 16.80),
    (Build.TAPE_SHIELDED, 1.23, 17.22),
]


@pytest.mark.parametrize(("build", "cable", "drum"), MINIMUM_DRUMS)
def test_smallest_drum(build, cable, drum):
    assert minimum_drum(cable, build) == pytest.approx(drum, abs=0.01)


def test_length_of_a_layer_on_the_centre_line():
    # Barrel 2 in, cable 1/4 in, 20 turns: 141.37 in by geometry. A public how-to article winds the first layer on the
    # bare barrel (125.7 in) and the second on barrel + 2 diameters (157.1 in): each is a turn's pi x d per turn short.
    first, second = length_of_layer(2, 0.25, 1, 20), length_of_layer(2, 0.25, 2, 20)
    assert first == pytest.approx(141.37, abs=0.01)
    assert first - 20 * math.pi * 0.25 == pytest.approx(125.7, abs=0.2)
    assert second - 20 * math.pi * 0.25 == pytest.approx(157.1, abs=0.2)


def test_length_from_weight():
    # Arithmetic; unit weight of 15 kV 4/0 from a public table.
    assert length_from_weight(4000, 250, 1260) == pytest.approx(2976.2, abs=0.1)


@pytest.mark.parametrize(
    ("feet", "pounds_per_kft", "net", "package"), [(5600, 653, 3656.8, 3900), (2800, 1544, 4323.2, 4500)]
)
def test_weight_from_length(feet, pounds_per_kft, net, package):
    # Computed from a public table of bare-copper packages (ASTM B8); the package weighs the reel as well, so its tare
    # is between 175 and 285 lb (package weights are printed to 100 lb).
    assert weight_of_length(feet, pounds_per_kft) == pytest.approx(net, abs=0.1)
    assert 175 <= package - weight_of_length(feet, pounds_per_kft) <= 285
    assert length_from_weight(package, package - net, pounds_per_kft) == pytest.approx(feet, abs=0.1)


@pytest.mark.parametrize(("start", "end"), [(1250, 3740), (3740, 1250)], ids=["climbing", "falling"])
def test_length_by_marks_is_their_difference(start, end):
    # Common practice: 1250 to 3740, either way, is 2490 ft.
    reel = ReelMarks(length=2490 * FOOT, outer=to_ticks(start), inner=to_ticks(end), unit="ft")
    assert reel.by_marks(reel.span) == 2490 * FOOT
    assert reel_books(reel, []).left == 2490 * FOOT


@pytest.mark.parametrize(("taped", "left"), [("2465.1", "0.99"), ("2514.9", "1.01")])
def test_marks_are_good_to_one_percent(taped, left):
    # Computed from a cable maker's technical note: marks aim at 1 %, so 2490 ft by marks is 2465.1 to 2514.9 ft.
    reel = ReelMarks(length=4980 * FOOT, outer=0, inner=to_ticks(4980), unit="ft")
    cut = CutMarks(id="c1", outer=0, inner=to_ticks(2490), taped=int(Fraction(taped) * FOOT))
    books = reel_books(reel, [cut])
    assert books.factor == Fraction(left)
    assert books.left == Fraction(taped) * FOOT


def test_length_left_from_the_wound_diameter():
    # Derived from the NEMA WC 26 method: 48 x 30 x 24 wound to 40 in with 1.020 in cable holds about 1933 ft.
    feet = length_from_wound_diameter(Drum(48, 30, 24), 1.020, 40) / 12
    assert feet == pytest.approx(1933, rel=WOUND_DIAMETER_ACCURACY)
    assert feet == pytest.approx(1933, abs=1)


# Conductor weights, lb per 1000 ft: cmil x pi/4 x 1e-6 in2 x 12 000 in x density x lay factor.
# Copper printed in a public table of bare soft copper (ASTM B3/B8); aluminium from memory of ASTM B231.
POUNDS_PER_G_CM3_IN3 = 0.0361273  # 1 g/cm3 in lb/in3
CONDUCTOR_WEIGHTS = [
    (105_600, 0.32117, 326, 0.003),
    (133_100, 0.32117, 411, 0.003),
    (167_800, 0.32117, 518, 0.003),
    (211_600, 0.32117, 653, 0.003),
    (250_000, 0.32117, 772, 0.003),
    (500_000, 0.32117, 1544, 0.003),
    (500_000, 2.703 * POUNDS_PER_G_CM3_IN3, 469, 0.004),
    (1_000_000, 2.703 * POUNDS_PER_G_CM3_IN3, 938, 0.004),
]


@pytest.mark.parametrize(("cmil", "density", "printed", "tolerance"), CONDUCTOR_WEIGHTS)
def test_a_reel_weighs_what_its_metal_weighs(cmil, density, printed, tolerance):
    # 2800 ft of bare conductor by geometry and density against the same by the printed weight per 1000 ft.
    by_geometry = cmil * math.pi / 4 * 1e-6 * 2800 * 12 * density * 1.02
    assert weight_of_length(2800, printed) == pytest.approx(by_geometry, rel=tolerance)
    assert length_from_weight(by_geometry + 200, 200, printed) == pytest.approx(2800, rel=tolerance)
