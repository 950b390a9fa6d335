"""Quantities against published tables, geometry worked by hand, and common practice. Every value names its source."""

import math
from decimal import Decimal, localcontext
from fractions import Fraction

import pytest

from takeoff.rules.engine.elements import posts
from takeoff.rules.engine.quantities import take_off
from takeoff.rules.engine.rows import LONG, RuleItem
from takeoff.rules.engine.settle import settle
from takeoff.runs.geometry.circle import PI, circle_area
from takeoff.runs.geometry.cut_lengths import bend_excess, bundle_of, conductor_lengths, turns_of
from takeoff.runs.geometry.facts import CableFacts, ConductorFacts, CrossingFacts, EndFacts, SectionFacts
from tests.takeoff.facts import CARTRIDGE, FT, IN, MM, ONE, book, default_book, elbow, exact, row, run, straight

CUBIC_INCH = Fraction("25.4") ** 3


def test_pi_is_good_to_sixteen_places():
    # The first 40 decimal digits of π, any handbook.
    with localcontext() as context:
        context.prec = 45
        true = Decimal("3.1415926535897932384626433832795028841972")
        assert abs(Decimal(PI.numerator) / Decimal(PI.denominator) / true - 1) < Decimal("3e-17")


# Fasteners along one edge, n = ceil((L − 2e)/s) + 1: L, s, e in feet, then n. Common practice (fence-post form); a
# public cablebus guide specification puts cover screws about 4 ft on centres.
EDGES = [
    ("12", 4, "0", 4),
    ("12", 4, "0.25", 4),
    ("10", 4, "0", 4),
    ("8", 4, "0.5", 3),
    ("24", 2, "0", 13),
    ("0.5", 4, "0", 2),
    ("36", 3, "0", 13),  # floating point makes 12.000000000000002 bays of some such divisions
]


@pytest.mark.parametrize(("length", "spacing", "offset", "count"), EDGES)
def test_fasteners_along_an_edge(length, spacing, offset, count):
    assert posts(int(Fraction(length) * FT), spacing * FT, int(Fraction(offset) * FT)) == count


def test_joints_are_sections_less_one():
    # Cable tray practice: 113 ft of 12 ft sections is 10 sections, the last of 5 ft, and 9 joints.
    lengths = [12 * FT] * 9 + [5 * FT]
    sections = [straight(length, seq) for seq, length in enumerate(lengths, 1)]
    assert sum(lengths) == 113 * FT
    assert exact(take_off(run(*sections), book(row("joint")))) == 9
    assert exact(take_off(run(), book(row("joint")))) == 0


def bead(path: int, bead_size: Fraction | int, contents: Fraction, **rest) -> Fraction:
    """Cartridges for a bead along a section of this length."""
    rules = book(
        row("section", "bead", item="tube", bead=int(bead_size), **rest),
        items={"tube": RuleItem("tube", contents=contents)},
    )
    return exact(take_off(run(straight(path)), rules), "tube")


# Adhesive maker's technical bulletin (2017), linear yield of a 310 mL cartridge in metres by bead in mm.
@pytest.mark.parametrize(("bead_mm", "metres"), [(1, 395), (2, 99), (3, 44), (4, 25), (5, 16), (6, 11)])
def test_a_cartridge_of_310_ml_goes_as_far_as_its_maker_prints(bead_mm, metres):
    one_metre = bead(1000 * MM, bead_mm * MM, Fraction(310_000))
    assert float(1 / one_metre) == pytest.approx(metres, abs=0.5)


# Geometry V / (π d²/4), the formula of that table, for 10.1 fl oz; a US gallon is 231 in³ and 128 fl oz.
@pytest.mark.parametrize(
    ("bead_in", "feet"), [("1/8", 123.8), ("3/16", 55.0), ("1/4", 30.9), ("3/8", 13.8), ("1/2", 7.7)]
)
def test_a_cartridge_of_10_1_fl_oz_goes_as_far_as_geometry_says(bead_in, feet):
    one_foot = bead(FT, Fraction(bead_in) * IN, CARTRIDGE.contents)
    assert float(1 / one_foot) == pytest.approx(feet, abs=0.1)
    assert float(CARTRIDGE.contents / CUBIC_INCH) == pytest.approx(18.227, abs=0.001)


def test_waste_comes_before_the_ceiling():
    # Geometry: 220 ft of 1/4 in round bead and 10 % is 7.82, so 8 cartridges.
    needed = bead(220 * FT, IN // 4, CARTRIDGE.contents, allowance=1000)
    assert float(needed) == pytest.approx(7.821, abs=0.001)
    assert math.ceil(needed) == 8


def crossing(width: Fraction, height: int, depth: Fraction, cable: Fraction, count: int, amount: int = 1):
    """The pillows of one cubic inch that fill a crossing round `count` cables; lengths in inches."""
    one = CableFacts("c", "500", "Cu", diameter=int(cable * IN))
    facts = run(
        straight(),
        cable=one,
        phases=1,
        cables_per_phase=count,
        ground_cables=0,
        crossings=(CrossingFacts(FT, "wall", int(width * IN), height * IN, int(depth * IN), fire_rated=True),),
    )
    rules = book(
        row("crossing", "fill", amount * ONE, item="pillow"), items={"pillow": RuleItem("pillow", contents=CUBIC_INCH)}
    )
    return exact(take_off(facts, rules), "pillow")


def test_firestop_volume_of_the_specifiers_sample():
    # Firestop guide, sample problem: opening of 50.24 in², pipe of 34.19 in², 1/4 in deep is 4.0 in³; twice for walls
    # sealed on both sides. 34.19 in² is a circle of 6.598 in; the opening is made 6.28 by 8 in, the same area.
    sample = crossing(Fraction("6.28"), 8, Fraction(1, 4), Fraction("6.598"), 1)
    assert float(sample) == pytest.approx(4.0, abs=0.05)
    assert crossing(Fraction("6.28"), 8, Fraction(1, 4), Fraction("6.598"), 1, amount=2) == 2 * sample


def test_firestop_volume_by_geometry():
    # (A − π/4 × 6.625²) × 1/4 for an opening of the area of an 8 in circle, 3.948 in³.
    opening = math.pi * 16
    needed = crossing(
        Fraction(round(opening / 8, 4)).limit_denominator(10_000), 8, Fraction(1, 4), Fraction("6.625"), 1
    )
    assert float(needed) == pytest.approx(3.948, abs=0.001)


def test_firestop_pillows_per_layer():
    # Area method: 12 × 24 in, six cables of 1.230 in, a face of 4 × 2 in and 20 % for compression: 43 a layer. A layer
    # 1 in deep of pillows of 8 in³ is the same count.
    volume = crossing(Fraction(24), 12, Fraction(1), Fraction("1.23"), 6)
    assert math.ceil(volume / 8 * Fraction(6, 5)) == 43
    # The six cables take 2.48 % of the opening.
    assert float(1 - volume / 288) == pytest.approx(0.0248, abs=0.0001)


def test_pieces_of_heat_shrink_come_whole_from_a_stick():
    # A tube that shrinks 10 % along covers 12 in when cut at 13.33 in: 3 pieces from a stick of 48 in.
    rules = book(row("conductor", "cut pieces", item="stick", piece=int(Fraction(40, 3) * IN)))
    assert exact(take_off(run(straight(), phases=1, cables_per_phase=3), rules), "stick") == 1


def test_72_pieces_of_9_in_take_15_sticks():
    # Common practice: 9 in of heat shrink a lug. 36 conductors have 72 ends; 5 pieces come from a stick of 48 in, so 72
    # pieces take 14.4 sticks and 15 are cut. By length alone, 648 in from 48 in, it would be 14: one short.
    facts = run(straight(), cables_per_phase=12)
    takeoff = take_off(facts, default_book("feet"))
    assert exact(takeoff, "tube-heat-shrink") == Fraction(72, 5)
    settled = settle({"R1": takeoff}, {})
    assert settled["R1", "tube-heat-shrink", "terminations"].quantity == 15 * ONE


@pytest.mark.parametrize(("size", "item"), [
    ("3/0", "to-4/0"), ("4/0", "to-4/0"), ("250", "to-350"), ("350", "to-350"), ("500", "to-500"), ("750", "over-500"),
    ("107 mm2", "to-4/0"), ("120 mm2", "to-350"),
])  # fmt: skip
def test_ground_clamps_by_size_at_ten_feet_and_each_fitting(size, item):
    # Common practice: a ground clamp at least every 10 ft of a straight and at each fitting, by bands of size.
    facts = run(
        straight(10 * FT),
        straight(12 * FT, 2),
        straight(4 * FT, 3),
        elbow("left", seq=4),
        ground_cable=CableFacts("g", size, "Cu"),
    )
    takeoff = take_off(facts, default_book("feet"))
    clamps = {line.item: line.exact for line in takeoff.lines if line.item.startswith("clamp-ground")}
    assert clamps == {f"clamp-ground-{item}": 1 + 2 + 1 + 1}
    assert exact(takeoff, f"bolt-clamp-{item}") == 5


def test_cover_screws_of_a_ten_foot_cover():
    # Common practice: at most 24 in apart and 2 in from each end: (120 − 4)/24 goes up to 5 bays, 6 screws a side.
    takeoff = take_off(run(straight(10 * FT)), default_book("feet"))
    assert exact(takeoff, "screw-cover") == 12


@pytest.mark.parametrize(("tiers", "bolt"), [(2, "bolt-block-3/8x5"), (3, "bolt-block-3/8x8")])
def test_block_bolts_by_tiers(tiers, bolt):
    # Common practice: 5 in bolts hold two tiers, 8 in bolts three.
    takeoff = take_off(run(straight(12 * FT), tiers=tiers, cables_per_phase=4), default_book("feet"))
    bolts = {line.item: line.exact for line in takeoff.lines if line.item.startswith("bolt-block")}
    # 12 ft at 36 in, half a bay from each end, is 4 posts of 2 bolts.
    assert bolts == {bolt: 8}


def test_butyl_is_the_sealant_of_the_default_books():
    # Common practice: butyl rubber seals; latex, acrylic and silicone do not belong there.
    for name in ("feet", "metric"):
        rules = [rule for rule in default_book(name).rules if rule.measure == "bead"]
        assert {rule.item.code for rule in rules} == {"sealant-butyl"}
        assert all(rule.tally.counted_on in LONG for rule in rules)


def test_bend_excess_worked_by_hand():
    # Six a tier at 2.006 in centres put the outermost 5 × 2.006 / 2 = 5.015 in off centre; a right turn of 90° takes it
    # π/2 × 5.015 = 7.88 in further when it stands on the left.
    facts = run(elbow("right"), centre_spacing=int(Fraction("2.006") * IN))
    assert bundle_of(facts).aside == Fraction("5.015") * IN
    outermost = ConductorFacts("A1", tier=1, position=1)
    excess = bend_excess(turns_of(facts), bundle_of(facts), bundle_of(facts).offset(outermost))
    assert float(excess / IN) == pytest.approx(7.88, abs=0.005)
    assert float(excess / IN) == pytest.approx(math.pi / 2 * 5.015, rel=1e-12)


@pytest.mark.parametrize("radius_in", [12, 24, 60])
@pytest.mark.parametrize("degrees", [30, 45, 90])
def test_bend_excess_is_the_difference_of_concentric_arcs(radius_in, degrees):
    # Measured along the arc as a polygon of many chords, independent of the formula: an arc at radius R + y round the
    # same centre is longer than the one at R by θ y, whatever R is.
    def arc(radius: float, chords: int = 20_000) -> float:
        step = math.radians(degrees) / chords
        return chords * 2 * radius * math.sin(step / 2)

    facts = run(SectionFacts(1, "horizontal elbow", FT, angle=Decimal(degrees), turn="right"), centre_spacing=2 * IN)
    left = bundle_of(facts).offset(ConductorFacts("A1", tier=1, position=1))
    offset_in = float(left[0] / IN)
    measured = arc(radius_in + offset_in) - arc(radius_in)
    assert float(bend_excess(turns_of(facts), bundle_of(facts), left) / IN) == pytest.approx(measured, rel=1e-6)


def test_cable_length_is_the_centre_line_and_both_stick_outs():
    # Common practice.
    ends = (EndFacts("from", stick_out=6 * FT), EndFacts("to", stick_out=7 * FT))
    lengths = conductor_lengths(run(straight(40 * FT), ends=ends))
    assert {length.length for length in lengths if length.set_name != "G"} == {53 * FT}


def test_area_of_an_insulated_conductor():
    # NFPA 70 (NEC) 2008 Chapter 9 Table 5, XHHW: 500 kcmil is 0.943 in over its insulation, 0.6984 in².
    assert float(circle_area(Fraction("0.943"))) == pytest.approx(0.6984, abs=0.0002)
