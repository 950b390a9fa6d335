"""Use held against plan, added up by item and stage, by run and by crew."""

from fractions import Fraction

from kits.closing.sums.against_plan import StageUse, by_item, by_name
from kits.shortages.reckon.lines import ShortItem

TAPE = ShortItem(1, "TAPE", unit_cost=250)
BOLT = ShortItem(2, "BOLT")
USES = (
    StageUse(TAPE, 1, "CB-1", "cables", 40_000, 50_000),
    StageUse(TAPE, 2, "CB-2", "cables", 40_000, 35_000),
    StageUse(TAPE, 2, "CB-2", "covers", 0, 5_000),
    StageUse(BOLT, 2, "CB-2", "covers", 80_000, 60_000),
)


def test_by_item_and_stage():
    found = [
        (use.item.code, use.stage, use.stages, use.planned, use.used, use.more, use.of_plan) for use in by_item(USES)
    ]
    assert found == [
        ("TAPE", "cables", 2, 80_000, 85_000, 5_000, Fraction(17, 16)),
        ("TAPE", "covers", 1, 0, 5_000, 5_000, None),
        ("BOLT", "covers", 1, 80_000, 60_000, -20_000, Fraction(3, 4)),
    ]


def test_by_run_what_cancels_out_within_an_item_is_neither_more_nor_less():
    first, second = by_name(USES, lambda use: use.run)
    assert (first.name, first.run_id, first.stages, first.over, first.under, first.cost) == ("CB-1", 1, 1, 1, 0, 250)
    assert (second.stages, second.over, second.under, second.cost, second.unpriced) == (2, 0, 1, 0, 1)


def test_by_crew_runs_are_added_up():
    (crew,) = by_name(USES, lambda _: "A")
    assert (crew.name, crew.stages, crew.over, crew.under, crew.cost) == ("A", 3, 1, 1, 250)


def test_what_is_shown_adds_up():
    (use,) = by_item([StageUse(TAPE, 1, "CB-1", "cables", 17_461, 25_004)])
    assert use.shown == (17_500, 25_000, 7_500)
