"""The documentation and the empty sheets say what the tables are."""

import io
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from openpyxl import load_workbook

from takeoff.sheets.files.blank import LISTS, empty_workbook
from takeoff.sheets.files.column_words import default_of, describe
from takeoff.sheets.files.sources import read_file
from takeoff.sheets.registry import tables
from takeoff.sheets.services import load_sheets
from tests.takeoff.sheets.books import SITE, load, told

DOCS = Path(__file__).resolve().parents[4] / "docs" / "sheets.md"


def test_the_documentation_lists_every_table_as_it_is():
    _prose, listed = DOCS.read_text().split("prints this part.\n\n")
    assert listed == "\n".join(describe(table) for table in tables())


@pytest.mark.parametrize("table", tables(), ids=lambda table: table.name)
def test_every_column_says_what_it_is_and_what_an_empty_cell_means(table):
    required = [column.required for column in table.columns]
    assert required == sorted(required, reverse=True), "required columns come first"
    for column in table.columns:
        assert column.help.endswith("."), column.name
        assert default_of(column), column.name


def book(*names):
    chosen = [table for table in tables() if not names or table.name in names]
    return load_workbook(io.BytesIO(empty_workbook(chosen)))


def test_there_is_a_sheet_for_every_table_with_its_columns():
    workbook = book()
    visible = [sheet.title for sheet in workbook.worksheets if sheet.sheet_state == "visible"]
    assert visible == [table.name for table in tables()]
    for table in tables():
        assert [cell.value for cell in workbook[table.name][1]] == [column.name for column in table.columns]
        assert all(cell.comment.text for cell in workbook[table.name][1])
        assert workbook[table.name].freeze_panes == "A2"


def test_allowed_words_are_drop_downs():
    workbook = book("sections")
    found = {}
    for choice in workbook["sections"].data_validations.dataValidation:
        sheet, _, cells = choice.formula1.partition("!")
        words = [cell.value for row in workbook[sheet][cells.replace("$", "")] for cell in row]
        found[str(choice.sqref).split("2:")[0]] = words
    assert found["C"] == ["straight", "horizontal elbow", "vertical elbow", "tee", "offset", "expansion"]
    assert found["I"] == ["yes", "no"]
    assert workbook[LISTS].sheet_state == "hidden"


def test_columns_that_a_spreadsheet_would_spoil_are_text():
    sheet = book("sections")["sections"]
    formats = {cell.value: sheet.column_dimensions[cell.column_letter].number_format for cell in sheet[1]}
    assert (formats["run"], formats["length"], formats["seq"]) == ("@", "@", "General")


@pytest.mark.django_db
def test_empty_sheets_load_and_change_nothing():
    load(SITE)

    result = load_sheets(sheets=read_file(io.BytesIO(empty_workbook(tables())), "sheets.xlsx"), slug="north")

    assert told(result) == []
    assert not any(table.touched for table in result.tables)


def test_the_command_writes_the_tables_that_it_is_asked_for(tmp_path, capsys):
    call_command("empty_sheets", tmp_path / "empty.xlsx", table=["runs", "ends"])

    assert load_workbook(tmp_path / "empty.xlsx").sheetnames == ["runs", "ends", LISTS]
    assert "2 empty tables" in capsys.readouterr().out
    call_command("empty_sheets", tmp_path / "metric.xlsx", table=["site", "sections"], unit="m")
    heads = [cell for sheet in load_workbook(tmp_path / "metric.xlsx") for cell in sheet[1] if cell.comment]
    words = "\n".join(cell.comment.text for cell in heads)
    assert "empty: 10 m" in words
    assert "30 ft" not in words
    assert "12 ft" not in words
    with pytest.raises(CommandError, match="'runz' is no table; expected one of site, suppliers"):
        call_command("empty_sheets", tmp_path / "other.xlsx", table=["runz"])
    with pytest.raises(CommandError, match="cannot be written: File exists"):
        call_command("empty_sheets", tmp_path / "empty.xlsx")


def test_the_command_prints_what_the_documentation_says(capsys):
    call_command("empty_sheets", describe=True)
    assert DOCS.read_text().endswith(capsys.readouterr().out)
