"""What a sheet may not say in passing: refused, or asked about before it is kept."""

import io
from copy import deepcopy
from decimal import Decimal

import pytest
from openpyxl import Workbook

from takeoff.models import Conductor, Item, RunEnd, Section, Site
from takeoff.sheets.files.sources import read_file
from takeoff.sheets.services import load_sheets
from tests.takeoff.sheets.books import CATALOGUE, PACKAGE, RUNS, SITE, load, told

pytestmark = pytest.mark.django_db

SECTIONS = ["run", "seq", "kind", "length"]


def asked(result) -> list[str]:
    """What a person has to confirm."""
    return [str(caution) for caution in result.asked]


def changed(table: str, row: int, column: str, value) -> dict:
    """One table of the package with another value."""
    rows = deepcopy(PACKAGE[table])
    rows[row - 1][rows[0].index(column)] = value
    return {table: rows}


def test_a_package_that_is_whole_is_not_asked_about():
    assert asked(load(PACKAGE, confirmed=False)) == []
    assert Site.objects.exists()


def test_what_is_asked_about_is_kept_only_when_it_is_confirmed():
    load(PACKAGE)
    longer = changed("sections", 2, "length", "25 ft")

    result = load(longer, confirmed=False)
    assert (result.loaded, asked(result)) == (
        False,
        ["sections, row 2, column length: 25 ft - is a straight over 24' 0\""],
    )
    assert Section.objects.get(run__name="R-101", seq=1).length == Decimal("3657.6")

    assert load(longer).loaded
    assert load(longer, confirmed=False).loaded, "what changes nothing is not asked about again"


def test_a_run_whose_end_is_not_told_is_asked_about_and_has_no_cut_length():
    tables = deepcopy(PACKAGE)
    tables["ends"] = [row for row in tables["ends"] if row[:2] != ["R-101", "to"]]

    result = load(tables)

    assert asked(result) == ["runs, row 2, column run: R-101 - the to end is not told: no cut length until then"]
    lengths = Conductor.objects.filter(run__name="R-101").values_list("length", flat=True)
    assert set(lengths) == {0}
    assert Conductor.objects.get(run__name="R-102", name="A1").length > 0


@pytest.mark.parametrize(
    ("table", "keeps", "wrong"),
    [
        (
            "ends",
            lambda row: row[1] != "to",
            "ends, row 2, column end: found no row for to, expected every one of ends that R-101 has; one that "
            "is taken away has gone = yes",
        ),
        (
            "sections",
            lambda row: row[1] != 2,
            "sections, row 2, column seq: found no row for 2, expected every one of sections that R-101 has; one that "
            "is taken away has gone = yes",
        ),
    ],
    ids=["end", "section"],
)
def test_an_end_or_a_section_that_no_row_names_is_no_longer_taken_away_unsaid(table, keeps, wrong):
    load(PACKAGE)
    rows = [row for row in PACKAGE[table] if row[0] in {"run", "R-101"} and keeps(row)]
    assert told(load({table: rows})) == [wrong]
    assert RunEnd.objects.count() == 4
    assert Section.objects.count() == 4


def test_a_crossing_goes_by_a_row_that_says_so_and_only_once():
    load(PACKAGE)
    heads, row = PACKAGE["crossings"]
    gone = {"crossings": [[*heads, "gone"], [*row, "yes"]]}

    assert load(gone).tables[0].counts["removed"] == 1
    again = load(gone)
    assert (again.loaded, again.tables[0].touched) == (True, False)


@pytest.mark.parametrize(("said", "cable"), [("MV", "C500"), ("LV", "M500")])
def test_a_run_of_another_voltage_class_than_its_cable_is_refused(said, cable):
    cables = [*CATALOGUE["cables"], ["M500", 500, "Cu", "1.6 in", None]]
    cables = [[*row, value] for row, value in zip(cables, ["voltage class", "LV", "LV", "MV"], strict=True)]
    heads, row = ["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable", "voltage_class"], []
    row = ["R-1", "a", "b", 1, 3, 1, cable, said]
    result = load({**SITE, "cables": cables, "runs": [heads, row]})
    assert told(result) == [
        f"runs, row 2, column voltage_class: found {said} on {cable}, expected a {said} cable: {cable} is not one"
    ]


def test_a_cable_does_not_change_its_class_under_a_run():
    load(PACKAGE)
    heads, row, _ = CATALOGUE["cables"]
    result = load({"cables": [[*heads, "voltage_class"], [*row, "MV"]]})
    assert told(result)[0] == (
        "cables, row 2, column voltage_class: found MV, expected LV, as the run R-101 that is made of it"
    )


@pytest.mark.parametrize("fitted", ["yes", "no", "elsewhere", "BLK-M"])
def test_an_item_comes_fitted_on_an_item_or_a_part_and_nothing_else(fitted):
    load(PACKAGE)
    heads = ["item", "description", "unit", "fitted"]
    (problem,) = told(load({"items": [heads, ["BLK-M", "Block", "each", fitted]]}))
    assert problem.startswith(f"items, row 2, column fitted: found {fitted}, expected another item, or one of section")
    for good in ("STR-12", "Seal plate", None):
        assert load({"items": [heads, ["BLK-M", "Block", "each", good]]}).loaded
    assert Item.objects.get(code="BLK-M").fitted == ""


def test_an_item_that_is_said_to_come_fitted_is_asked_about_since_its_need_ends():
    load(PACKAGE)
    result = load({"items": [["item", "description", "unit", "fitted"], ["BLK-M", "Block", "each", "straight"]]})
    assert asked(result) == ["items, row 2, column fitted: straight - was loose: what runs need of it no longer counts"]


def test_a_change_that_ends_a_need_is_asked_about():
    load(PACKAGE)
    heads, rule = PACKAGE["rules"]
    other = [value if head != "item" else "SEAL" for head, value in zip(heads, rule, strict=True)]
    result = load({"rules": [heads, other]}, confirmed=False)
    # 12 ft, 4 ft 8 1/2 in and 12 ft at 3 ft are 4 + 2 + 4 posts, 20 ft are 7.
    assert asked(result) == ["BLK-M - 17 were needed until now, none after this load: is that meant?"]
    assert not result.loaded


@pytest.mark.parametrize(("seqs", "missing"), [((1, 2, 4), "3 is"), ((10, 20, 50), "30, 40 are"), ((2, 3), "1 is")])
def test_numbers_that_are_left_out_are_asked_about(seqs, missing):
    rows = [["R-102", seq, "straight", "10 ft"] for seq in seqs]
    result = load({**PACKAGE, "sections": [SECTIONS, *rows, ["R-101", 1, "straight", "10 ft"]]})
    assert asked(result) == [f"sections, row 2, column seq: R-102 - {missing} left out: is a section missing?"]


@pytest.mark.parametrize("seqs", [(1, 2, 3), (10, 20, 30), (5,)])
def test_numbers_in_equal_steps_are_not_asked_about(seqs):
    rows = [["R-102", seq, "straight", "10 ft"] for seq in seqs]
    result = load({**PACKAGE, "sections": [SECTIONS, *rows, ["R-101", 1, "straight", "10 ft"]]})
    assert asked(result) == []


def test_a_seal_without_a_size_is_asked_about():
    result = load({**PACKAGE, **changed("ends", 2, "seal_width (in)", None)})
    assert asked(result) == [
        "ends, row 2, column seal_width: nothing - a moulded seal without seal_width: what goes by its size is not "
        "counted"
    ]


def test_a_drawing_length_that_is_not_the_sum_of_the_sections_is_asked_about():
    heads, first, second = deepcopy(RUNS["runs"])
    runs = [[*heads, "drawing_length"], [*first, "29 ft"], [*second, "20 ft"]]
    result = load({**PACKAGE, "runs": runs})
    # 12 ft + 4 ft 8 1/2 in + 12 ft
    assert asked(result) == [
        "runs, row 2, column drawing_length: R-101 - the drawing states 29' 0\", the sections add up to 28' 8 1/2\""
    ]


@pytest.mark.parametrize(
    ("table", "row", "column", "found"),
    [
        ("sections", 2, "length", 3658),
        ("ends", 2, "stick_out", 1829),
        ("crossings", 2, "at", "30480"),
    ],
)
def test_a_bare_number_that_the_unit_of_the_site_cannot_mean_is_refused(table, row, column, found):
    (problem,) = told(load({**PACKAGE, **changed(table, row, column, found)}))
    start = f"{table}, row {row}, column {column}: found {found}, expected a length with its unit: {found} ft would be"
    assert problem.startswith(start)
    assert load({**PACKAGE, **changed(table, row, column, f"{found} mm")}).loaded


def test_slack_at_the_limit_is_asked_about():
    result = load({**PACKAGE, **changed("runs", 2, "slack_percent", "20%")})
    assert asked(result) == ["runs, row 2, column slack_percent: 20% - is 20 % of the whole length meant?"]


def workbook(change) -> list:
    """The sheet of items as a workbook keeps it, with something done to it."""
    book = Workbook()
    sheet = book.active
    sheet.title = "items"
    for row in (["item", "description", "unit", "group"], ["A", "x", "each", "g"], ["B", "y", "each", "g"]):
        sheet.append(row)
    change(sheet)
    file = io.BytesIO()
    book.save(file)
    return read_file(file, "items.xlsx")


def test_hidden_rows_are_read_and_told():
    load(SITE)

    def hide(sheet):
        sheet.row_dimensions[3].hidden = True

    result = load_sheets(sheets=workbook(hide), slug="north")
    assert asked(result) == ["items: row 3 - hidden in the file, and read like the others"]
    assert load_sheets(sheets=workbook(hide), slug="north", confirmed=True).loaded
    assert Item.objects.count() == 2


def test_merged_cells_are_named_as_what_they_are():
    load(SITE)
    result = load_sheets(sheets=workbook(lambda sheet: sheet.merge_cells("D2:D3")), slug="north")
    assert told(result) == [
        "items, row 3, column group: found a merged cell, expected a cell of its own: it is merged with D2, so split "
        "the cells and fill in each"
    ]


def test_a_letter_that_passes_for_a_digit_is_named():
    runs = deepcopy(RUNS["runs"])
    runs[1][0] = "CBD-1"
    load({**SITE, **CATALOGUE, "runs": runs})

    result = load({"sections": [SECTIONS, ["CBD-l", 1, "straight", "10 ft"]]})
    assert told(result) == [
        "sections, row 2, column run: found CBD-l, expected the name of a run: CBD-1 is written with the digit 1, this "
        "with the letter l"
    ]
    again = load({"runs": [runs[0], ["CBD-l", *runs[1][1:]]]})
    assert asked(again)[0] == (
        "runs, row 2, column run: CBD-l - looks like CBD-1, which is written with the digit 1, this with the letter l"
    )


def test_a_load_tells_what_moves_on_runs():
    load(PACKAGE)
    result = load(changed("sections", 5, "length", "24 ft"))
    # 24 ft at 3 ft are 8 blocks, 20 ft were 7; cut length 24 + 6 + 6 ft, with 5 % slack.
    assert result.effects.moved == {"R-102": [("BLK-M", "cables", "7", "8")]}
    assert ("A1, B1, C1", "33' 7 1/4\"", "37' 9 5/8\"") in result.effects.lengths["R-102"]
