"""
Reel arithmetic against what others published.

What REEL-… names stands in `values.csv` with its source, the rest beside its check. "Printed" means that the expected
figure itself stands there, "computed" that only the rule or the data do.
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
from reels.ledger.marks.line import reel_books
from reels.ledger.marks.printed import CutMarks, ReelMarks
from takeoff.units.exact import to_ticks
from tests.outside.values import value, values

FOOT = 3_048_000  # ticks of 1/10 000 mm; the international foot is 0.3048 m exactly (NIST SP 811, App. B.8)


@pytest.mark.parametrize("row", values("REEL-01", "REEL-08"), ids=lambda row: row.id)
def test_capacity_by_the_nema_method(row):
    holds = capacity(Drum(row["flange_in"], row["traverse_in"], row["drum_in"]), row["cable_od_in"])
    assert clearance(row["cable_od_in"]) == row["clearance_in"]
    assert (holds.layers, holds.turns) == (row["layers"], row["turns"])
    assert holds.length / 12 == pytest.approx(row.figure, abs=1)


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


@pytest.mark.parametrize("row", values("REEL-09", "REEL-10"), ids=lambda row: row.id)
def test_clearance_is_an_inch_or_a_cable_diameter(row):
    assert clearance(row["cable_od_in"]) == row.figure


def test_simple_rule_gives_the_wire_rope_example():
    row = value("REEL-11")
    feet = simple_capacity_feet(row["depth_A_in"], row["width_B_in"], row["drum_D_in"], row["K"])
    assert feet == pytest.approx(row.figure, abs=1)


# Printed in the same table as REEL-12 to 20: rope diameter and oversize in inches (the oversize is inferred), K.
MORE_CONSTANTS = [
    (5 / 16, 1 / 32, 2.21),
    (7 / 16, 1 / 32, 1.19),
    (9 / 16, 1 / 32, 0.741),
    (11 / 16, 1 / 32, 0.506),
    (13 / 16, 3 / 64, 0.354),
]
REEL_CONSTANTS = [(row["nominal_in"], row["oversize_in"], row.figure) for row in values("REEL-12", "REEL-20")]


@pytest.mark.parametrize(("nominal", "oversize", "printed"), REEL_CONSTANTS + MORE_CONSTANTS)
def test_reel_constants_of_the_wire_rope_table(nominal, oversize, printed):
    assert reel_constant(nominal, oversize) == pytest.approx(printed, rel=0.0075)


BUILDS = (
    Build.LOW_VOLTAGE, Build.OVER_2000_V_JACKETED, Build.OVER_2000_V_CONCENTRIC, Build.TAPE_SHIELDED,
)  # fmt: skip


@pytest.mark.parametrize(("build", "row"), zip(BUILDS, values("REEL-21", "REEL-24"), strict=True))
def test_smallest_drum(build, row):
    assert minimum_drum(row["od_in"], build) == pytest.approx(row.figure, abs=0.01)


def test_length_of_a_layer_on_the_centre_line():
    # REEL-25 winds the first layer on the bare barrel and REEL-26 the second on barrel + 2 diameters: each is a turn's
    # pi x d per turn short of its centre line.
    row, bare_first, bare_second = value("REEL-27"), value("REEL-25"), value("REEL-26")
    barrel, cable, turns = row["barrel_in"], row["cable_in"], int(row["turns"])
    first, second = length_of_layer(barrel, cable, 1, turns), length_of_layer(barrel, cable, 2, turns)
    assert first == pytest.approx(row.figure, abs=0.01)
    assert first - turns * math.pi * cable == pytest.approx(bare_first.figure, abs=0.2)
    assert second - turns * math.pi * cable == pytest.approx(bare_second.figure, abs=0.2)


def test_length_from_weight():
    row = value("REEL-28")
    feet = length_from_weight(row["gross_lb"], row["tare_lb"], row["lb_per_kft"])
    assert feet == pytest.approx(row.figure, abs=0.1)


@pytest.mark.parametrize(("row", "package"), zip(values("REEL-29", "REEL-30"), (3900, 4500), strict=True))
def test_weight_from_length(row, package):
    # The package weighs the reel as well, so its tare is between 175 and 285 lb (weights are printed to 100 lb).
    feet, pounds_per_kft = row["length_ft"], row["lb_per_kft"]
    assert weight_of_length(feet, pounds_per_kft) == pytest.approx(row.figure, abs=0.1)
    assert 175 <= package - weight_of_length(feet, pounds_per_kft) <= 285
    assert length_from_weight(package, package - row.figure, pounds_per_kft) == pytest.approx(feet, abs=0.1)


@pytest.mark.parametrize("row", values("REEL-31", "REEL-32"), ids=["climbing", "falling"])
def test_length_by_marks_is_their_difference(row):
    feet = int(row.figure)
    reel = ReelMarks(feet * FOOT, to_ticks(int(row["start_mark"])), to_ticks(int(row["end_mark"])), unit="ft")
    assert reel.by_marks(reel.span) == feet * FOOT
    assert reel_books(reel, []).left == feet * FOOT


@pytest.mark.parametrize(("end", "sign"), [(0, -1), (1, 1)], ids=["short", "long"])
def test_marks_are_good_to_one_percent(end, sign):
    row = value("REEL-33")
    taped, feet = Fraction(row.expected.split(" to ")[end]), int(row["length_ft"])
    reel = ReelMarks(length=3 * feet * FOOT, outer=0, inner=to_ticks(3 * feet), unit="ft")
    cuts = [CutMarks(f"c{n}", to_ticks(n * feet), to_ticks((n + 1) * feet), int(taped * FOOT)) for n in range(2)]
    books = reel_books(reel, cuts)
    assert books.factor == 1 + sign * Fraction(int(row["tolerance_pct"]), 100)
    assert books.left == taped * FOOT


def test_length_left_from_the_wound_diameter():
    row = value("REEL-34")
    drum = Drum(2 * row["drum_in"], row["traverse_in"], row["drum_in"])
    feet = length_from_wound_diameter(drum, row["cable_od_in"], row["wound_diameter_in"]) / 12
    assert feet == pytest.approx(row.figure, rel=WOUND_DIAMETER_ACCURACY)
    assert feet == pytest.approx(row.figure, abs=1)
