"""`manage.py load` as people and machines run it."""

import json
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command

from takeoff.models import Item, Section, Site
from tests.takeoff.sheets.books import PACKAGE, SITE, load, workbook

pytestmark = pytest.mark.django_db


@pytest.fixture
def package(tmp_path):
    path = tmp_path / "package.xlsx"
    path.write_bytes(workbook(PACKAGE))
    return path


def test_it_says_what_it_did_for_each_table(package, capsys):
    call_command("load", package, site="north")

    out = capsys.readouterr().out.splitlines()
    assert out[:3] == ["site: 1 new", "suppliers: 1 new", "items: 3 new"]
    assert out[-1] == "Loaded into north."


def test_a_dry_run_says_so_and_keeps_nothing(package, capsys):
    call_command("load", package, site="north", dry_run=True)

    assert capsys.readouterr().out.splitlines()[-1] == "Nothing was kept: this was a dry run."
    assert not Site.objects.exists()


def test_problems_go_to_the_error_output_and_the_status_is_not_zero(tmp_path, capsys):
    path = tmp_path / "items.csv"
    path.write_text("item,description,unit\nA,,each\nB,x,\n")
    load(SITE)

    with pytest.raises(SystemExit) as ended:
        call_command("load", path, site="north")

    assert ended.value.code == 1
    assert capsys.readouterr().err.splitlines() == [
        "items, row 2, column description: found nothing, expected a value: What it is.",
        "items, row 3, column unit: found nothing, expected a value: What it is counted in: each, ft, roll.",
        "2 problems. Nothing was loaded.",
    ]


def test_json_has_stable_keys_and_nothing_else_on_the_output(tmp_path, capsys):
    path = tmp_path / "items.csv"
    path.write_text("item,description,unit,pack\nA,x,each,zero\n")
    load(SITE)

    with pytest.raises(SystemExit):
        call_command("load", path, site="north", json=True)

    captured = capsys.readouterr()
    assert captured.err == ""
    assert json.loads(captured.out) == {
        "site": "north",
        "dry_run": False,
        "loaded": False,
        "error": None,
        "tables": {"items": {"rows": 1, "new": 0, "changed": 0, "removed": 0, "unchanged": 0}},
        "problems": [
            {
                "sheet": "items",
                "row": 2,
                "column": "pack",
                "found": "zero",
                "expected": "a number with at most four decimal places, above 0",
            }
        ],
        "cautions": [],
        "moved": {},
        "lengths": {},
        "touched": [],
    }


@pytest.fixture
def longer(tmp_path):
    """A sheet that makes a straight longer than any is."""
    load(PACKAGE)
    rows = ["run,seq,kind,length", "R-102,1,straight,25 ft"]
    path = tmp_path / "sections.csv"
    path.write_text("\n".join(rows))
    return path


def test_what_is_to_be_confirmed_ends_with_3_and_is_not_kept(longer, capsys):
    with pytest.raises(SystemExit) as ended:
        call_command("load", longer, site="north")

    assert ended.value.code == 3
    assert Section.objects.get(run__name="R-102").length == Decimal("6096")
    assert capsys.readouterr().err.splitlines() == [
        "Look again: sections, row 2, column length: 25 ft - is a straight over 24' 0\"",
        "1 cell to look at again. Nothing was loaded: add --confirm when they are meant so.",
    ]


def test_it_tells_what_changes_and_what_moves(longer, capsys):
    call_command("load", longer, site="north", confirm=True)
    # 25 ft at 3 ft are 9 blocks, 20 ft were 7; (25 + 12) ft and 5 % are 38.85 ft, (25 + 6) ft 32.55.
    assert capsys.readouterr().out.splitlines() == [
        "sections: 1 changed",
        "  changed R-102 1: length: 20' 0\" → 25' 0\"",
        "  R-102, cut length of G1: 27' 3 5/8\" → 32' 6 5/8\"",
        "  R-102, cut length of A1, B1, C1: 33' 7 1/4\" → 38' 10 1/4\"",
        "  R-102, BLK-M, cables: 7 → 9",
        "Loaded into north.",
    ]
    assert Section.objects.get(run__name="R-102").length == Decimal("7620")


def test_a_dry_run_and_json_tell_what_is_to_be_confirmed(longer, capsys):
    call_command("load", longer, site="north", dry_run=True)
    assert "Look again" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        call_command("load", longer, site="north", json=True)
    told = json.loads(capsys.readouterr().out)
    assert (told["loaded"], [each["confirm"] for each in told["cautions"]]) == (False, [True])
    assert told["moved"] == {"R-102": [["BLK-M", "cables", "7", "9"]]}


def test_json_tells_of_a_file_that_cannot_be_read(tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        call_command("load", tmp_path / "none.xlsx", site="north", json=True)

    assert ended.value.code == 1
    assert json.loads(capsys.readouterr().out)["error"] == "there is no file or folder 'none.xlsx'"


def test_a_csv_whose_stem_is_no_table_is_refused(tmp_path, capsys):
    (tmp_path / "itemz.csv").write_text("item,description,unit\nA,x,each\n")
    load(SITE)

    for path in (tmp_path / "itemz.csv", tmp_path):
        with pytest.raises(SystemExit):
            call_command("load", path, site="north")
        assert "itemz: found itemz, expected the name of a table: one of site" in capsys.readouterr().err


def test_a_folder_loads_all_of_its_tables(tmp_path, capsys):
    (tmp_path / "site.csv").write_text("name\nNorth yard\n")
    (tmp_path / "items.csv").write_text('item,description,unit,supplier\nA,"x, y",each,Bus works\n')
    (tmp_path / "suppliers.csv").write_text("supplier\nBus works\n")
    (tmp_path / "notes.txt").write_text("not a table")

    call_command("load", tmp_path, site="north")

    assert Item.objects.of(Site.objects.get()).get().supplier.name == "Bus works"


def test_a_file_of_another_kind_is_an_error(tmp_path):
    (tmp_path / "items.pdf").write_text("")
    with pytest.raises(CommandError, match="neither a workbook"):
        call_command("load", tmp_path / "items.pdf", site="north")
