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
from takeoff.units.measures import contents_mm3
from tests.outside.values import value, values
from tests.takeoff.facts import FT, IN, MM, ONE, book, default_book, elbow, exact, row, run, straight

CUBIC_INCH = Fraction("25.4") ** 3
TEN_OUNCES = contents_mm3(Decimal("10.1"), "fl oz")


def test_pi_is_good_to_sixteen_places():
    # The first 40 decimal digits of π, any handbook.
    with localcontext() as context:
        context.prec = 45
        true = Decimal("3.1415926535897932384626433832795028841972")
        assert abs(Decimal(PI.numerator) / Decimal(PI.denominator) / true - 1) < Decimal("3e-17")


@pytest.mark.parametrize("outside", values("FENC-01", "FENC-06"), ids=lambda outside: outside.id)
def test_fasteners_along_an_edge(outside):
    length, spacing, offset = (
        int(outside.exact(name) * FT) for name in ("length_ft", "max_spacing_ft", "end_offset_ft")
    )
    assert posts(length, spacing, offset) == outside.figure


def test_twelve_bays_stay_twelve():
    # 36 ft at 3 ft (common practice): floating point makes 12.000000000000002 bays of some such divisions.
    assert posts(36 * FT, 3 * FT, 0) == 13


def test_joints_are_sections_less_one():
    ten, outside = value("FENC-07"), value("FENC-08")
    count, joints, last = (int(word) for word in outside.expected.split())
    lengths = [int(outside["section_ft"]) * FT] * (count - 1) + [last * FT]
    sections = [straight(length, seq) for seq, length in enumerate(lengths, 1)]
    assert sum(lengths) == outside["run_ft"] * FT
    assert exact(take_off(run(*sections), book(row("joint")))) == joints
    assert (len(sections), joints) == (ten["sections"], ten.figure)
    assert exact(take_off(run(), book(row("joint")))) == 0


def bead(path: int, bead_size: Fraction | int, contents: Fraction, **rest) -> Fraction:
    """Cartridges for a bead along a section of this length."""
    rules = book(
        row("section", "bead", item="tube", bead=int(bead_size), **rest),
        items={"tube": RuleItem("tube", contents=contents)},
    )
    return exact(take_off(run(straight(path)), rules), "tube")


@pytest.mark.parametrize("outside", values("SEAL-11", "SEAL-16"), ids=lambda outside: outside.id)
def test_a_cartridge_of_310_ml_goes_as_far_as_its_maker_prints(outside):
    one_metre = bead(1000 * MM, int(outside["bead_diameter_mm"]) * MM, contents_mm3(Decimal(310), "mL"))
    assert float(1 / one_metre) == pytest.approx(outside.figure, abs=0.5)


@pytest.mark.parametrize("outside", values("SEAL-17", "SEAL-21"), ids=lambda outside: outside.id)
def test_a_cartridge_of_10_1_fl_oz_goes_as_far_as_geometry_says(outside):
    one_foot = bead(FT, outside.exact("bead_in") * IN, TEN_OUNCES)
    assert float(1 / one_foot) == pytest.approx(outside.figure, abs=0.1)


def test_waste_comes_before_the_ceiling():
    outside = value("SEAL-23")
    waste = int(outside["waste_pct"] * 100)
    needed = bead(int(outside["length_ft"]) * FT, outside.exact("bead_in") * IN, TEN_OUNCES, allowance=waste)
    assert float(needed) == pytest.approx(outside.figure, abs=0.001)
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
    # The pipe's area is a circle of 6.598 in; the opening is made 6.28 by 8 in, the area of the sample.
    outside, both_sides = value("FIRE-01"), value("FIRE-03")
    pipe = Fraction("6.598")
    assert Fraction("6.28") * 8 == outside.exact("opening_in2")
    assert float(circle_area(pipe)) == pytest.approx(outside["pipe_in2"], abs=0.005)
    sample = crossing(Fraction("6.28"), 8, outside.exact("depth_in"), pipe, 1)
    assert float(sample) == pytest.approx(outside.figure, abs=0.05)
    twice = crossing(Fraction("6.28"), 8, outside.exact("depth_in"), pipe, 1, amount=int(both_sides["sides"]))
    assert float(twice) == pytest.approx(both_sides.figure, abs=0.1)
    assert twice == 2 * sample


def test_firestop_volume_by_geometry():
    # The opening is made a rectangle: its width times 8 in is the area of the circle.
    outside = value("FIRE-02")
    width = Fraction(round(circle_area(outside.exact("opening_dia_in")) / 8, 4))
    needed = crossing(width, 8, outside.exact("depth_in"), outside.exact("pipe_od_in"), 1)
    assert float(needed) == pytest.approx(outside.figure, abs=0.001)


def test_firestop_pillows_per_layer():
    # A layer 1 in deep of pillows of 8 in³ is as many as of faces of 4 × 2 in.
    outside, fill = value("FIRE-04"), value("FIRE-05")
    width, height = outside.exact("opening_in"), int(outside["opening_high_in"])
    volume = crossing(width, height, Fraction(1), outside.exact("od_in"), int(outside["cables"]))
    pressed = 1 + outside.exact("compression_pct") / 100
    assert math.ceil(volume / outside.exact("face_in2") * pressed) == outside.figure
    assert 100 * float(1 - volume / (width * height)) == pytest.approx(fill.figure, abs=0.01)


def test_a_tube_that_shrinks_along_is_cut_longer():
    # An allowance of s/(1 − s) makes cover/(1 − s) of what is to be covered.
    outside, stick = value("SHRK-04"), value("SHRK-05")
    shrinks = outside.exact("longitudinal_shrink_pct") / 100
    cover, allowance = int(outside["cover_in"]) * IN, round(shrinks / (1 - shrinks) * 10_000)
    tube = {"tube": RuleItem("tube", unit="in")}
    rules = book(row("run", "length", amount=cover, item="tube", allowance=allowance), items=tube)
    cut = exact(take_off(run(straight()), rules), "tube")
    assert float(cut) == pytest.approx(outside.figure, abs=0.01)

    rules = book(row("conductor", "cut pieces", item="stick", piece=int(cut * IN)))
    sticks = exact(take_off(run(straight(), phases=1, cables_per_phase=int(stick.figure)), rules), "stick")
    assert sticks == 1
    assert stick["piece_in"] == outside.figure


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


@pytest.mark.parametrize("outside", values("COND-22", "COND-24"), ids=lambda outside: outside.id)
def test_area_of_an_insulated_conductor(outside):
    assert float(circle_area(outside.exact("diameter_in"))) == pytest.approx(outside.figure, abs=0.0002)
