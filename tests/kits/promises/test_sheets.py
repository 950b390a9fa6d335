"""The table `kits`."""

import pytest

from kits.models import Kit, KitLine
from takeoff.models import Site
from tests.kits.sheets import load, site_with, told

pytestmark = pytest.mark.django_db


def kits() -> dict:
    lines = (
        KitLine.objects.of(Site.objects.get()).select_related("kit__run", "item").order_by("kit__name", "item__code")
    )
    return {
        (str(line.kit), str(line.item)): (line.quantity, str(line.kit.run or ""), line.kit.revision) for line in lines
    }


def test_kits_and_their_lines_are_made():
    assert told(site_with()) == []
    assert kits() == {("K1", "LUG"): (10, "NORTH", "B"), ("K2", "LUG"): (4, "", "")}


def test_loading_the_same_again_changes_nothing():
    site_with()
    result = site_with()
    counts = {table.name: table.counts for table in result.tables}
    for name in ("kits", "orders", "shipments"):
        assert {state for state, number in counts[name].items() if number} == {"unchanged"}


def test_the_rows_of_a_kit_replace_the_kit_and_leave_others_alone():
    site_with()
    header = ["kit", "item", "quantity", "run", "revision"]
    result = load({"kits": [header, ["K1", "SEAL", 2, "SOUTH", "C"]]})
    assert result.loaded
    assert kits() == {("K1", "SEAL"): (2, "SOUTH", "C"), ("K2", "LUG"): (4, "", "")}
    (outcome,) = result.tables
    assert [(change.state, change.details) for change in outcome.changes] == [
        ("changed", ("run: NORTH → SOUTH", "revision: B → C")),
        ("new", ()),
        ("removed", ()),
    ]


def test_a_sheet_without_the_column_keeps_run_and_revision():
    site_with()
    assert load({"kits": [["kit", "item", "quantity"], ["K1", "LUG", 11]]}).loaded
    assert kits()["K1", "LUG"] == (11, "NORTH", "B")


def test_rows_of_a_kit_must_agree():
    header = ["kit", "item", "quantity", "run", "revision"]
    result = site_with(kits=[header, ["K1", "LUG", 1, "NORTH", "B"], ["K1", "SEAL", 1, "SOUTH", "B"]])
    assert told(result) == ["kits, row 3, column run: found SOUTH, expected NORTH, as row 2 says of kit K1"]
    assert Kit.objects.count() == 0


def test_a_blank_follows_the_row_of_the_kit_that_says_it():
    header = ["kit", "item", "quantity", "run", "revision"]
    rows = [["K1", "LUG", 1, None, "B"], ["K1", "SEAL", 2, "NORTH", None], ["K2", "LUG", 3, None, None]]
    assert told(site_with(kits=[header, *rows])) == []
    assert kits() == {("K1", "LUG"): (1, "NORTH", "B"), ("K1", "SEAL"): (2, "NORTH", "B"), ("K2", "LUG"): (3, "", "")}


def test_blanks_between_rows_that_contradict_each_other_are_no_second_problem():
    header = ["kit", "item", "quantity", "run"]
    rows = [["K1", "LUG", 1, None], ["K1", "SEAL", 1, "NORTH"], ["K1", "BR-28", 1, "SOUTH"]]
    assert told(site_with(kits=[header, *rows])) == [
        "kits, row 4, column run: found SOUTH, expected NORTH, as row 3 says of kit K1"
    ]


def test_a_run_that_nobody_knows_is_told_once_for_the_blanks_that_follow_it():
    header = ["kit", "item", "quantity", "run"]
    rows = [["K1", "LUG", 1, "WEST"], ["K1", "SEAL", 1, None], ["K1", "BR-28", 1, None]]
    (problem,) = told(site_with(kits=[header, *rows]))
    assert problem.startswith("kits, row 2, column run: found WEST, expected the name of a run")
    assert Kit.objects.count() == 0


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        (["K1", "NUT", 1], "column item: found NUT, expected the name of an item: one of LUG, SEAL, BR-28"),
        (["K1", "LUG", 0], "column quantity: found 0, expected a number with at most four decimal places, above 0"),
        (["K1", "LUG", "ten"], "column quantity: found ten, expected a number"),
        (["K1", None, 1], "column item: found nothing, expected"),
    ],
    ids=["unknown item", "zero", "words", "no item"],
)
def test_a_bad_cell_is_told(row, problem):
    (told_problem,) = told(site_with(kits=[["kit", "item", "quantity"], row]))
    assert told_problem.startswith(f"kits, row 2, {problem}")
