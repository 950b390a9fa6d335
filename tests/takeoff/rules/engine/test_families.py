"""A run that matches no rule of a family is warned of."""

from dataclasses import replace

from takeoff.rules.engine.quantities import take_off
from takeoff.runs.geometry.facts import CableFacts, CrossingFacts, EndFacts
from tests.takeoff.facts import book, default_book, elbow, row, run, straight


def warnings(facts, *rows):
    return take_off(facts, book(*rows)).warnings


def ground(size: str):
    return CableFacts("g", size, "Cu")


CLAMPS = [
    row("straight", name="small", family="ground clamp", ground_max="4/0"),
    row("straight", name="large", family="ground clamp", ground_min="250", ground_max="500"),
]


def test_a_size_in_no_band_is_warned_of():
    assert warnings(run(straight(), ground_cable=ground("250")), *CLAMPS) == ()
    found = warnings(run(straight(), ground_cable=ground("750")), *CLAMPS)
    assert found == ("no ground clamp rule matched: ground cable 750, horizontal straight",)


def test_a_row_for_any_size_does_not_hide_the_missing_band():
    nut = row("straight", name="nut", family="ground clamp")
    assert len(warnings(run(straight(), ground_cable=ground("750")), *CLAMPS, nut)) == 1


def test_a_single_band_is_a_choice_too():
    assert len(warnings(run(straight(), ground_cable=ground("750")), CLAMPS[0])) == 1


def test_no_ground_cable_needs_no_clamp_but_an_unnamed_one_does():
    assert warnings(run(straight(), ground_cable=None, ground_cables=0), *CLAMPS) == ()
    found = warnings(run(straight(), ground_cable=None), *CLAMPS)
    assert found == ("no ground clamp rule matched: ground cable of no stated size, horizontal straight",)


def test_no_ground_cable_hides_no_other_gap():
    bare = {"ground_cable": None, "ground_cables": 0}
    bolt = row("section", name="bolt", family="block bolt", tiers="2")
    assert warnings(run(straight(), tiers=3, **bare), bolt) == (
        "no block bolt rule matched: 3 tiers, horizontal straight",
    )
    cover = row("conductor end", name="LV", family="cover", voltage_class="LV", location="indoor")
    other = replace(cover, name="out", voltage_class="", location="outdoor")
    assert len(warnings(run(straight(), voltage_class="MV", **bare), cover, other)) == 2


def test_a_run_without_the_thing_counted_is_not_warned_of():
    assert warnings(run(elbow(), ground_cable=ground("750")), *CLAMPS) == ()


def test_tiers_lies_and_lug_holes_are_choices():
    bolts = [row("section", name=lie, family="block bolt", tiers="2", lie=lie) for lie in ("horizontal", "vertical")]
    assert warnings(run(straight(), straight(seq=2, lie="vertical")), *bolts) == ()
    assert warnings(run(straight(), straight(seq=2, lie="vertical"), tiers=3), *bolts) == (
        "no block bolt rule matched: 3 tiers, horizontal straight",
        "no block bolt rule matched: 3 tiers, vertical straight",
    )
    lug = row("conductor end", name="lug", family="lug", lug_holes="2")
    facts = run(straight(), ends=(EndFacts("from", lug_holes=2), EndFacts("to", lug_holes=4)))
    assert warnings(facts, lug) == ("no lug rule matched: 4 lug holes, conductor end at the to end",)


def test_what_all_rows_share_says_whom_the_family_is_for():
    kit = row("conductor end", name="kit", family="cold shrink", voltage_class="MV", cable_max="350")
    assert warnings(run(straight()), kit) == ()
    assert warnings(run(straight(), voltage_class="MV"), kit) == (
        "no cold shrink rule matched: cable 500, conductor end at the from end",
        "no cold shrink rule matched: cable 500, conductor end at the to end",
    )
    pillow = row("crossing", name="pillow", family="firestop", fire_rated=True, crossing_kind="wall", tiers="1")
    facts = run(straight(), crossings=(CrossingFacts(1, "wall"), CrossingFacts(1, "floor", fire_rated=True)))
    assert warnings(facts, pillow) == ()
    rated = replace(facts, crossings=(CrossingFacts(1, "wall", fire_rated=True),))
    assert warnings(rated, pillow) == ("no firestop rule matched: 2 tiers, wall crossing 1",)


def test_rows_that_differ_leave_no_gap_between_them():
    covers = [
        row("conductor end", name="LV", family="cover", voltage_class="LV", location="indoor"),
        row("conductor end", name="MV", family="cover", voltage_class="MV", location="indoor"),
    ]
    assert warnings(run(straight(), voltage_class="MV"), *covers) == ()
    lone = covers[0]
    other = replace(covers[1], voltage_class="", location="outdoor")
    found = warnings(run(straight(), voltage_class="MV"), lone, other)
    assert [text.split(":")[0] for text in found] == ["no cover rule matched"] * 2


def test_default_books_leave_no_ordinary_run_without_rules():
    ends = (
        EndFacts("from", seal="moulded", seal_width=1, seal_height=1),
        EndFacts("to", seal="caulked", seal_width=1, seal_height=1),
    )
    for name, sizes in (("feet", ("6", "4/0", "500", "1000")), ("metric", ("16 mm2", "120 mm2", "400 mm2"))):
        for size in sizes:
            for tiers in (1, 2, 3, 4):
                for voltage in ("LV", "MV"):
                    facts = run(
                        straight(),
                        elbow("up", kind="vertical elbow", seq=2, lie="vertical"),
                        replace(straight(seq=3), kind="expansion", cover=False),
                        tiers=tiers,
                        voltage_class=voltage,
                        ground_cable=CableFacts("g", size, "Cu", diameter=1),
                        ends=ends,
                    )
                    assert take_off(facts, default_book(name)).warnings == ()


def test_default_books_warn_of_lugs_that_they_do_not_have():
    facts = run(straight(), ends=(EndFacts("from", lug_holes=3), EndFacts("to", ground_lug_holes=4)))
    assert take_off(facts, default_book("feet")).warnings == (
        "no lug rule matched: 3 lug holes, conductor end at the from end",
        "no ground lug rule matched: 4 lug holes, ground end at the to end",
    )
