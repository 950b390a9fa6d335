"""What each count and measure gives on a run whose sizes can be worked in the head."""

from dataclasses import replace
from fractions import Fraction

import pytest

from takeoff.rules.engine.quantities import take_off
from takeoff.rules.engine.rows import COUNTED_ON, RuleItem
from takeoff.runs.geometry.circle import PI
from takeoff.runs.geometry.facts import CableFacts, CrossingFacts, EndFacts
from tests.takeoff.facts import CABLE, FT, GROUND, IN, ONE, book, elbow, exact, row, run, straight

SECTIONS = (
    straight(10 * FT, 1),
    straight(10 * FT, 2),
    straight(4 * FT, 3, lie="vertical"),
    elbow("left", seq=4),
    replace(straight(FT, 5), kind="expansion", cover=False),
)
ENDS = (
    EndFacts("from", lug_holes=2, ground_lug_holes=1, seal="moulded", seal_width=24 * IN, seal_height=12 * IN),
    EndFacts("to", lug_holes=4, ground_lug_holes=2),
)
CROSSINGS = (
    CrossingFacts(FT, "wall", 20 * IN, 10 * IN, 4 * IN, fire_rated=True, seal="caulked"),
    CrossingFacts(2 * FT, "floor", 20 * IN, 10 * IN, 4 * IN),
)
NEUTRAL = CableFacts("n", "250", "Cu", diameter=2 * IN)
# 14 conductors in two tiers, two of them neutrals; two ground cables; 28 ft along the centre line.
RUN = run(*SECTIONS, ends=ENDS, crossings=CROSSINGS, neutrals=2, neutral_cable=NEUTRAL, ground_cables=2)


@pytest.mark.parametrize(
    ("counted_on", "count"),
    [
        ("run", 1),
        ("section", 5),
        ("straight", 3),
        ("fitting", 2),
        ("joint", 4),
        ("cover", 4),
        ("conductor", 14),
        ("conductor end", 28),
        ("ground conductor", 2),
        ("ground end", 4),
        ("lug hole", 14 * 2 + 14 * 4),
        ("ground lug hole", 2 * 1 + 2 * 2),
        ("end", 2),
        ("seal", 2),
        ("seal plate edge", 2),
        ("seal cable hole", 28),
        ("seal block face", 6),
        ("crossing", 2),
    ],
)
def test_each_counts(counted_on, count):
    assert counted_on in COUNTED_ON
    takeoff = take_off(RUN, book(row(counted_on, amount=15_000)))
    assert (exact(takeoff), takeoff.warnings) == (Fraction(3, 2) * count, ())


@pytest.mark.parametrize(
    ("counted_on", "condition", "count"),
    [
        ("section", {"lie": "vertical"}, 1),
        ("section", {"section_kind": "Horizontal  elbow, expansion"}, 2),
        ("straight", {"lie": "horizontal"}, 2),
        ("cover", {"section_kind": "straight"}, 3),
        ("seal", {"seal": "caulked"}, 1),
        ("conductor end", {"lug_holes": "3-4"}, 14),
        ("lug hole", {"lug_holes": "4"}, 56),
        ("ground end", {"lug_holes": "1"}, 2),
        ("crossing", {"fire_rated": True}, 1),
        ("crossing", {"fire_rated": False, "crossing_kind": "floor"}, 1),
        ("crossing", {"fire_rated": True, "crossing_kind": "floor"}, 0),
        ("run", {"tiers": "1, 2"}, 1),
        ("run", {"tiers": "3"}, 0),
        ("run", {"voltage_class": "lv"}, 1),
        ("run", {"voltage_class": "MV"}, 0),
        ("run", {"location": "outdoor, trench"}, 0),
        ("run", {"cable_min": "500"}, 1),
        ("run", {"cable_max": "350"}, 0),
        ("run", {"ground_min": "4/0", "ground_max": "250"}, 1),
    ],
)
def test_conditions_choose(counted_on, condition, count):
    assert exact(take_off(RUN, book(row(counted_on, **condition)))) == count


@pytest.mark.parametrize("size", ["4/0", "250", "350", "120 mm2", "500"])
def test_a_limit_that_bands_share_counts_once(size):
    bands = [("", "4/0"), ("4/0", "350"), ("350", "500")]
    rows = [row("straight", name=high, ground_min=low, ground_max=high) for low, high in bands]
    assert exact(take_off(run(straight(), ground_cable=CableFacts("g", size, "Cu")), book(*rows))) == 1


def test_bands_that_do_not_touch_hold_both_their_limits():
    rows = [row(name="low", ground_min="3/0", ground_max="4/0"), row(name="high", ground_min="250", ground_max="350")]
    for size, count in (("3/0", 1), ("4/0", 1), ("120 mm2", 0), ("250", 1), ("350", 1)):
        assert exact(take_off(run(straight(), ground_cable=CableFacts("g", size, "Cu")), book(*rows))) == count


def test_a_run_without_ground_cables_matches_no_ground_size_even_where_a_cable_is_named():
    rules = book(row(ground_min="4/0"))
    assert exact(take_off(run(straight()), rules)) == 1
    assert exact(take_off(run(straight(), ground_cables=0), rules)) == 0


def test_posts_count_on_every_section_sides_and_amount():
    rule = row("straight", "spaced", 20_000, spacing=3 * FT, end_offset=18 * IN, sides=2)
    # ceil(10/3) twice and ceil(4/3), two sides, two each.
    assert exact(take_off(RUN, book(rule))) == (4 + 4 + 2) * 2 * 2


def test_posts_on_the_run_follow_its_measured_length_and_those_on_sections_do_not():
    rules = book(row("run", "spaced", spacing=12 * FT), row("straight", "spaced", spacing=12 * FT, item="stick"))
    measured = replace(RUN, measured=37 * FT)
    assert (exact(take_off(RUN, rules)), exact(take_off(measured, rules))) == (4, 5)
    assert exact(take_off(RUN, rules), "stick") == exact(take_off(measured, rules), "stick") == 2 + 2 + 2
    assert take_off(measured.as_drawn(), rules) == take_off(RUN, rules)


def test_sections_measured_one_by_one_lengthen_the_run():
    longer = (replace(SECTIONS[0], measured=20 * FT), *SECTIONS[1:])
    assert replace(RUN, sections=longer).centre_line == 38 * FT
    assert exact(take_off(replace(RUN, sections=longer), book(row("run", "spaced", spacing=12 * FT)))) == 5


def test_cut_pieces_come_whole_from_sticks():
    # 28 ends × 2 pieces of 9 in; 5 from a stick of 48 in.
    rule = row("conductor end", "cut pieces", 20_000, item="stick", piece=9 * IN)
    assert exact(take_off(RUN, book(rule)), "stick") == Fraction(56, 5)


def tube(counted_on: str, **rest):
    items = {"tube": RuleItem("tube", contents=Fraction(1000))}
    return exact(take_off(RUN, book(row(counted_on, "bead", item="tube", bead=IN, **rest), items=items)), "tube")


def test_beads_run_along_edges_holes_and_faces():
    section = PI / 4 * Fraction("25.4") ** 2 / 1000  # tubes per mm of path
    inch = Fraction("25.4")
    assert tube("seal plate edge") == section * inch * (2 * (24 + 12) + 2 * (20 + 10))
    assert tube("seal block face") == section * inch * 3 * (24 + 20)
    holes = PI * (12 * Fraction("1.003") + 2 * 2) * inch
    assert tube("seal cable hole") == section * holes * 2
    assert tube("seal cable hole", seal="caulked", amount=2 * ONE) == section * holes * 2


def test_fill_is_the_opening_less_all_cables_ground_cables_included():
    items = {"pillow": RuleItem("pillow", contents=Fraction(1000))}
    rules = book(row("crossing", "fill", item="pillow", fire_rated=True), items=items)
    cables = PI / 4 * (12 * Fraction("1.003") ** 2 + 2 * 2**2 + 2 * Fraction("0.75") ** 2)
    assert exact(take_off(RUN, rules), "pillow") == (200 - cables) * 4 * Fraction("25.4") ** 3 / 1000


@pytest.mark.parametrize(
    ("item", "quantity"),
    [
        (RuleItem("rope", "ft"), Fraction(14 * 9, 12)),
        (RuleItem("rope", "Feet"), Fraction(14 * 9, 12)),
        (RuleItem("rope", "mm"), 14 * 9 * Fraction("25.4")),
        (RuleItem("rope", "roll", stock_length=66 * FT), Fraction(14 * 9, 12 * 66)),
    ],
)
def test_length_in_the_items_unit_or_in_rolls(item, quantity):
    rules = book(row("conductor", "length", 9 * IN, item="rope"), items={"rope": item})
    assert exact(take_off(RUN, rules), "rope") == quantity


def test_allowance_comes_on_top_and_rules_of_one_item_add_up():
    rules = book(row("conductor", name="a", allowance=500), row("ground conductor", name="b"))
    assert exact(take_off(RUN, rules)) == 14 * Fraction(21, 20) + 2


def test_sections_and_covers_can_be_items_themselves():
    sections = (
        straight(item="straight-10", mark="S1", cover_item="cover-10"),
        straight(seq=2, item="straight-10", mark="S2", cover=False, cover_item="cover-10"),
    )
    takeoff = take_off(run(*sections), book())
    found = {(line.item, line.stage): line.exact for line in takeoff.lines}
    assert found == {("straight-10", "enclosure"): 2, ("cover-10", "covers"): 1}


def test_fitted_items_are_shown_as_fitted():
    items = {"gasket": RuleItem("gasket", fitted="cover")}
    (line,) = take_off(RUN, book(row("cover", item="gasket"), items=items)).lines
    assert (line.exact, line.fitted) == (4, "cover")


def test_nothing_counted_gives_no_line():
    assert take_off(run(straight()), book(row("fitting"))).lines == ()


@pytest.mark.parametrize(
    ("rule", "facts", "warning"),
    [
        (
            row("seal plate edge", "bead", item="cartridge", bead=IN),
            replace(RUN, ends=(EndFacts("from", seal="moulded"), EndFacts("to")), crossings=()),
            "cartridge: the edge of the seal plate at the from end lacks its width or height; nothing is counted there",
        ),
        (
            row("seal cable hole", "bead", item="cartridge", bead=IN),
            replace(RUN, cable=replace(CABLE, diameter=None), crossings=(), neutrals=0),
            "cartridge: the cable hole in the seal at the from end lacks the cable's diameter; "
            "nothing is counted there",
        ),
        (
            row("crossing", "fill", item="cartridge"),
            replace(RUN, ground_cable=replace(GROUND, diameter=None), crossings=CROSSINGS[:1]),
            "cartridge: the wall crossing 1 lacks width, height, depth or a cable diameter; nothing is counted there",
        ),
        (
            row("crossing", "fill", item="cartridge"),
            replace(RUN, crossings=(replace(CROSSINGS[0], width=IN),)),
            "cartridge: the cables do not fit the opening of the wall crossing 1; nothing is counted there",
        ),
    ],
)
def test_what_the_sheet_leaves_out_is_warned_of_and_never_a_silent_zero(rule, facts, warning):
    takeoff = take_off(facts, book(rule))
    assert (takeoff.lines, takeoff.warnings) == ((), (warning,))


def test_an_end_that_nobody_described_counts_as_usual():
    assert exact(take_off(replace(RUN, ends=()), book(row("lug hole")))) == 14 * 2 * 2
