"""The working of a line, as a person can check it with a pencil."""

from takeoff.rules.engine.rows import RuleItem
from takeoff.rules.engine.steps import WorkingStep, steps
from takeoff.runs.geometry.facts import CrossingFacts, EndFacts
from tests.takeoff.facts import CUBE, FT, IN, ONE, book, default_book, elbow, row, run, straight


def shown(facts, rules, item="part", stage="enclosure", unit="ft"):
    return [(step.working, step.result) for step in steps(facts, rules, item, stage, unit=unit)]


def test_posts_are_worked_length_by_length():
    rule = row("straight", "spaced", 20_000, spacing=24 * IN, end_offset=2 * IN, sides=2, allowance=500)
    facts = run(straight(10 * FT), straight(10 * FT, 2), straight(4 * IN, 3), elbow(seq=4))
    assert shown(facts, book(rule)) == [
        ('2 × straight of 10\' 0": (10\' 0" − 2 × 2") ÷ 2\' 0", up, + 1 = 6 each', "12 posts"),
        ('1 × straight of 4": no longer than both end offsets of 2", so 1 each', "1 post"),
        ("13 posts × 2 sides × 2", "52 each"),
        ("52 + 5 % allowance", "54.6 each"),
        ("54.6, up", "55 each"),
    ]


def test_heat_shrink_shows_why_15_sticks_and_not_14():
    facts = run(straight(), cables_per_phase=12)
    assert shown(facts, default_book("feet"), "tube-heat-shrink", "terminations") == [
        ("conductor end at the from end", "36"),
        ("conductor end at the to end", "36"),
        ('72 pieces of 9"', "72 pieces"),
        ('4\' 0" stick ÷ 9", down', "5 pieces a stick"),
        ("72 ÷ 5", "14.4 stick"),
        ("14.4, up", "15 stick"),
    ]


def test_a_bead_shows_path_volume_and_contents():
    ends = (EndFacts("from", seal="caulked", seal_width=24 * IN, seal_height=12 * IN), EndFacts("to"))
    rule = row("seal plate edge", "bead", item="cartridge", bead=IN // 4, rounding="site")
    assert shown(run(straight(), ends=ends), book(rule), "cartridge") == [
        ("1 × edge of the seal plate at the from end, 6' 0\" each", "6' 0\" of bead"),
        ('π/4 × 1/4" × 1/4" × 6\' 0"', "3.53 in³"),
        ("3.53 in³ ÷ 18.23 in³ of contents", "≈ 0.1939 each"),
        (
            "added; all runs and stages of the site are added before it is rounded up once, then shared",
            "≈ 0.1939 each",
        ),
    ]


def test_a_fill_shows_opening_cables_and_depth():
    crossing = CrossingFacts(FT, "wall", 24 * IN, 12 * IN, 4 * IN)
    rules = book(row("crossing", "fill", item="pillow"), items={"pillow": RuleItem("pillow", contents=108 * CUBE)})
    facts = run(straight(), crossings=(crossing,), ground_cables=0)
    assert shown(facts, rules, "pillow") == [
        ('wall crossing 1: (2\' 0" × 1\' 0" − 9.48 in² of cables) × 4" deep', "1\u202f114.07 in³"),
        ("1\u202f114.07 in³ ÷ 108 in³ of contents", "≈ 10.3155 each"),
        ("≈ 10.3155, up", "11 each"),
    ]
    assert shown(facts, rules, "pillow", unit="m")[0] == (
        "wall crossing 1: (609.6 mm × 304.8 mm − 6\u202f117.03 mm² of cables) × 101.6 mm deep",
        "18\u202f256.41 mL",
    )


def test_a_length_shows_its_rolls():
    rules = book(
        row("conductor", "length", 18 * IN, item="tape"),
        items={"tape": RuleItem("tape", "roll", stock_length=66 * FT)},
    )
    assert shown(run(straight()), rules, "tape") == [
        ("conductor", "12"),
        ("12 × 1' 6\" = 18' 0\" ÷ 66' 0\" a roll", "≈ 0.2727 roll"),
        ("≈ 0.2727, up", "1 roll"),
    ]


def test_the_drawings_own_items_are_steps_too():
    facts = run(straight(item="part", mark="S1"), straight(seq=2, item="part", mark="S2"))
    assert steps(facts, book(row("run", amount=3 * ONE)), "part", "enclosure") == [
        WorkingStep("run each", "the run", "1", "test"),
        WorkingStep("run each", "1 × 3", "3 each", "test"),
        WorkingStep("", "on the drawing, marks S1, S2", "2 each", "drawing package"),
        WorkingStep("", "5, up", "5 each", "rounding by run"),
    ]


def test_what_could_not_be_counted_is_a_step():
    ends = (EndFacts("from", seal="caulked"), EndFacts("to"))
    rule = row("seal plate edge", "bead", item="cartridge", bead=IN // 4)
    gap = "the edge of the seal plate at the from end lacks its width or height; nothing is counted there"
    assert shown(run(straight(), ends=ends), book(rule), "cartridge")[0] == (gap, "not counted")


def test_an_item_that_no_rule_gives_has_no_steps():
    assert steps(run(straight()), book(row("joint")), "part", "covers") == []
