"""Every bad cell is told at once, and nothing is half done."""

from copy import deepcopy
from datetime import date

import pytest

from takeoff.models import Item, Run, Site
from tests.takeoff.sheets.books import CATALOGUE, PACKAGE, RUNS, SITE, load, told

pytestmark = pytest.mark.django_db


def broken(**cells):
    """Return the package with cells replaced: `runs_R2C4=…` is row 2, column 4 of `runs`, counted from 1."""
    tables = deepcopy(PACKAGE)
    for where, value in cells.items():
        table, _, place = where.rpartition("_R")
        row, column = (int(part) for part in place.split("C"))
        tables[table][row - 1][column - 1] = value
    return tables


def test_every_bad_cell_of_every_table_is_told_at_once_and_nothing_is_kept():
    result = load(
        broken(
            items_R2C4=0,
            cables_R2C2="240",
            runs_R2C4=5,
            runs_R3C9=5,
            ends_R2C3=date(2026, 6, 1),
            sections_R3C5="sideways",
            sections_R4C4="12' 14\"",
            stages_R2C3="soon",
        )
    )

    assert not result.loaded
    assert not Site.objects.exists()
    length = "a length such as 12' 6 1/2\", 12-6 1/2, 120 ft, 6 in, 3.2 m or 450 mm"
    assert told(result) == [
        "items, row 2, column pack: found 0, expected a number with at most four decimal places, above 0",
        "cables, row 2, column size: found 240, expected a size with its unit: 240 kcmil or 240 mm2",
        "runs, row 2, column tiers: found 5, expected a whole number from 1 to 4",
        "runs, row 3, column slack_percent: found 5, "
        "expected a percentage such as 5% or 0.05; a bare 5 could be either",
        f"ends, row 2, column stick_out: found 2026-06-01, expected {length}, "
        "not a date: the spreadsheet made a date of it, so format the cell as text",
        "sections, row 3, column turn: found sideways, expected one of left, right, up, down",
        "sections, row 4, column length: found 12' 14\", expected inches below 12 after feet",
        "stages, row 2, column planned: found soon, expected a date such as 2026-03-04",
    ]


@pytest.mark.parametrize(
    ("cell", "found", "expected"),
    [
        (date(2026, 12, 6), "2026-12-06", "not a date"),  # 12-6 typed in a spreadsheet
        (True, "TRUE", "a length such as"),
        ("=A1+1", "=A1+1", "formulas are not calculated"),
        ("#REF!", "#REF!", "formulas are not calculated"),
        ("twelve", "twelve", "a length such as"),
        ("-3 ft", "-3 ft", "not below 0"),
        ("1,200 ft", "1,200 ft", "without a comma"),
        ("1/64 in", "1/64 in", "exact to 1/10 000 mm"),
        (12.123456, "12.123456", "exact to 1/10 000 mm"),
        (1e300, "1000000", "a length that can be built"),
        ("12 parsecs", "12 parsecs", "'parsecs' is no unit of length here"),
        (None, "nothing", "a value: Along the centre line."),
        ("   ", "nothing", "a value: Along the centre line."),
    ],
)
def test_a_length_that_is_none_is_told_with_what_stands_there(cell, found, expected):
    result = load(broken(sections_R2C4=cell))

    (problem,) = told(result)
    assert problem.startswith(f"sections, row 2, column length: found {found}")
    assert expected in problem


def test_a_small_length_without_a_unit_is_refused_unless_the_header_has_one():
    (problem,) = told(load(broken(sections_R3C6=36)))
    assert problem == (
        "sections, row 3, column radius: found 36, expected a length with its unit, such as 6 1/2 in, 9 mm or 0.25 ft"
    )
    assert load(broken(sections_R1C6="radius [in]", sections_R3C6=36)).loaded


def test_a_reference_that_nobody_knows_names_the_near_one():
    (problem,) = told(load(broken(runs_R2C7="C50")))

    assert problem == (
        "runs, row 2, column cable: found C50, expected the name of a cable: one of C500, G4/0 (did you mean C500?)"
    )


def test_rows_that_hang_on_a_bad_row_are_not_told_again():
    result = load(broken(items_R4C3=None, cables_R2C3="gold"))

    assert [(problem.sheet, problem.row, problem.column) for problem in result.problems] == [
        ("items", 4, "unit"),
        ("cables", 2, "material"),
    ]


def test_a_key_that_repeats_names_the_first_row():
    tables = deepcopy(PACKAGE)
    tables["sections"].append(["R-101", 2, "tee", "2 ft", None, None, None, None])

    assert told(load(tables)) == [
        "sections, row 6, column seq: found R-101 2, expected a row of its own: row 3 has the same run and seq"
    ]


def test_headers_are_told_like_cells():
    tables = {"items": [["Item", "DESCRIPTION ", "desc ription", "pak", "pack (ft)"], ["A", "B", "C", 1, 1]]}

    assert told(load({**SITE, **tables})) == [
        "items, row 1, column description: found desc ription, expected every column once",
        "items, row 1, column pak: found pak, expected a column of this table: one of item, description, unit, group, "
        "pack, per_box, min_order, supplier, supplier_part, lead_time_days, unit_cost, shelf_life_days, grade, accept, "
        "refuse, stock_length, contents, usage, for_run, fitted (did you mean pack?)",
        "items, row 1, column pack: found pack (ft), expected pack, with a unit of its kind or none",
        "items, row 1, column unit: found nothing, expected a column unit: What it is counted in: each, ft, roll.",
    ]


def test_a_value_under_no_header_is_told():
    tables = {"suppliers": [["supplier", None, "email"], ["Bus works", None, None, "x"], ["Other", "stray", None]]}

    assert told(load({**SITE, **tables})) == [
        "suppliers, row 2, column number 4: found x, expected a name in the header row",
        "suppliers, row 3, column number 2: found stray, expected a name in the header row",
    ]


def test_a_title_above_the_header_is_told():
    tables = {"suppliers": [["Suppliers of the job"], ["supplier"], ["Bus works"]]}

    assert [str(problem)[:60] for problem in load({**SITE, **tables}).problems] == [
        "suppliers, row 1, column Suppliers of the job: found Supplie",
        "suppliers, row 1, column supplier: found nothing, expected a",
    ]


def test_a_sheet_that_is_no_table_is_told_with_the_near_one():
    (problem,) = told(load({**SITE, "runz": [["run"], ["R-101"]]}))

    assert problem.startswith("runz: found runz, expected the name of a table: one of site, suppliers, items")
    assert problem.endswith("(did you mean runs?)")


def test_a_file_in_which_no_table_is_seen_is_told():
    load(SITE)
    result = load({"suppliers": []})
    assert not result.loaded
    assert told(result) == ["found nothing, expected a table: a sheet that is neither hidden nor empty"]


def test_an_empty_sheet_is_no_problem():
    assert load({**SITE, "notes": []}).loaded


def test_a_site_that_does_not_exist_needs_a_site_sheet():
    assert told(load(CATALOGUE, slug="nowhere")) == [
        "found nowhere, expected the slug of a site that exists, or a table site with a row that creates it"
    ]


def test_a_site_sheet_without_a_row_creates_no_site():
    (problem,) = told(load({"site": [["name"]], **CATALOGUE}))

    assert problem.startswith("found north, expected the slug of a site that exists")


def test_a_bad_slug_creates_no_site():
    assert told(load(SITE, slug="a b")) == [
        "site, row 2: found a b, expected a site whose slug is of letters, digits, hyphens and underscores"
    ]


def test_a_setting_that_a_site_cannot_have_is_told_in_its_column():
    tables = {"site": [["name", "timezone", "service_level"], ["North", "Mars/Base", "20%"]], **CATALOGUE}

    result = load(tables)

    found = [(each.sheet, each.row, each.column, each.found) for each in result.problems]
    assert found == [("site", 2, "timezone", "Mars/Base"), ("site", 2, "service_level", "20%")]


def test_a_second_row_of_a_site_is_told():
    tables = {"site": [["name"], ["North"], ["South"]]}

    assert told(load(tables)) == [
        "site, row 3, column name: found South, expected no second row: a load is of one site"
    ]


def test_a_bad_second_load_leaves_the_first_as_it_was():
    load(PACKAGE)

    result = load({"items": [["item", "description", "unit"], ["NEW", "New", "each"], ["SEAL", "x", None]]})

    assert len(result.problems) == 1
    site = Site.objects.get()
    assert not Item.objects.of(site).filter(code="NEW").exists()
    assert Item.objects.of(site).get(code="SEAL").description == "Sealant"


def test_a_set_with_a_bad_row_is_not_taken_for_a_smaller_set():
    load(PACKAGE)
    tables = {"sections": deepcopy(RUNS["sections"])}
    tables["sections"][2][3] = "wrong"

    result = load(tables)

    (sections,) = result.tables
    assert sections.counts == {"new": 0, "changed": 0, "removed": 0, "unchanged": 1}


def test_an_amount_must_fit_its_measure():
    assert told(load(broken(rules_R2C6="3 in"))) == [
        "rules, row 2, column amount: found 3 in, expected a number without a unit: the measure is spaced"
    ]


def test_what_the_rule_book_refuses_is_told_by_cell():
    (problem,) = told(load(broken(rules_R2C7=None)))

    assert problem.startswith("rules, row 2, column spacing: found nothing, expected ")


def test_a_conductor_that_the_run_has_not_is_told_with_those_it_has():
    (problem,) = told(load(broken(conductors_R2C2="D1")))

    assert problem.endswith("found D1, expected a conductor of R-101: A1, A2, B1, B2, C1, C2, G1")


def test_two_conductors_cannot_lie_in_one_place():
    (problem,) = told(load(broken(conductors_R3C4=1)))

    assert problem == "conductors, row 3, column position: found 1, expected a free place: A1 has it already"


def test_unlikely_lengths_are_asked_about_and_loaded():
    result = load(broken(sections_R2C4="25 ft", ends_R2C3="15' 1\"", crossings_R2C2="900 ft"))

    assert result.loaded
    assert [str(caution) for caution in result.cautions] == [
        "ends, row 2, column stick_out: 15' 1\" - is over 15' 0\"",
        "sections, row 2, column length: 25 ft - is a straight over 24' 0\"",
        "crossings, row 2, column at: 900 ft - lies beyond the end of the run",
    ]


def test_names_that_look_like_numbers_stay_names():
    tables = deepcopy(PACKAGE)
    for table in ("runs", "ends", "sections", "crossings", "conductors", "stages"):
        for row in tables[table][1:]:
            row[0] = {"R-101": 101, "R-102": 102.0}[row[0]]

    assert load(tables).loaded
    assert sorted(Run.objects.of(Site.objects.get()).values_list("name", flat=True)) == ["101", "102"]
