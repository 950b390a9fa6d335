"""`manage.py reconcile`, as a person and as a machine run it."""

import json
from datetime import date
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from openpyxl import load_workbook

from tests.factories.takeoff import SiteFactory
from tests.kits.shortages.scene import Scene, at

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    scene = Scene("yard")
    lug, run = scene.item(pack=25), scene.run()
    scene.needs(run, lug, "terminations", 40)
    scene.stage(run, "terminations", planned=date(2026, 6, 15))
    scene.promise(lug, 36)
    scene.receive(scene.ship(lug, 36), 30, when=at(2))
    return scene


def run(*args):
    out, err = StringIO(), StringIO()
    call_command("reconcile", *args, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def test_it_tells_a_person_what_is_short_by_when_and_whose_gap_it_is(scene, monkeypatch):
    monkeypatch.setenv("COLUMNS", "110")
    out, _ = run("--site", "yard", "--as-of", "2026-05-04")

    assert "yard, as of 2026-05-04: 1 of 1 items short." in out
    assert (
        "2026-06-02  2026-06-15  LUG      10     25         0  each  carrier or supplier: 6 short at count, and 1 more"
        in out
    )


def test_it_gives_a_machine_the_figures_as_numbers(scene):
    out, err = run("--site", "yard", "--as-of", "2026-05-04", "--json")
    told = json.loads(out)

    assert (told["site"], told["as_of"], err) == ("yard", "2026-05-04", "")
    assert told["lines"] == [
        {
            "item": "LUG",
            "unit": "each",
            "takeoff": 40,
            "promised": 36,
            "ordered": 0,
            "shipped": 36,
            "counted": 30,
            "rejected": 0,
            "on_hand": 30,
            "usable": 30,
            "issued": 0,
            "used": 0,
            "inbound": 0,
            "need": 40,
            "need_expected": 40,
            "need_covered": 40,
            "short": 10,
            "short_on": "2026-06-15",
            "order_by": "2026-06-02",
            "order": 25,
            "expedite": 0,
            "spare": 0,
            "learned": 0,
            "timing": 0,
            "other_runs": 0,
            "causes": {
                "length_changed": 0,
                "kit_list": 4,
                "not_shipped": 0,
                "short_at_count": 6,
                "rejected": 0,
                "expired": 0,
                "lost": 0,
                "scrapped": 0,
                "other_site": 0,
                "used_beyond_plan": 0,
                "ordered_since": 0,
            },
        }
    ]
    assert [row["stage"] for row in told["readiness"]] == ["enclosure", "cables", "seals", "terminations", "covers"]


def test_books_of_an_earlier_day_are_those_of_that_day(scene):
    out, _ = run("--site", "yard", "--as-of", "2026-05-01", "--json")

    assert json.loads(out)["lines"][0]["inbound"] == 36


def test_workbooks_are_written_where_asked_and_the_json_stays_json(scene, tmp_path):
    out, err = run("--site", "yard", "--as-of", "2026-05-04", "--json", "--out", str(tmp_path / "reorders"))
    (path,) = (tmp_path / "reorders").iterdir()

    assert json.loads(out)["site"] == "yard"
    assert str(path) in err
    assert any("LUG" in str(cell.value) for row in load_workbook(path).worksheets[0].iter_rows() for cell in row)


def test_no_workbook_is_written_unasked(scene, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run("--site", "yard")

    assert list(tmp_path.iterdir()) == []


def test_an_unknown_site_and_a_bad_date_say_what_was_expected(scene):
    with pytest.raises(CommandError, match=r"There is no site 'yrad'; sites: yard\."):
        run("--site", "yrad")
    with pytest.raises(CommandError, match=r"--as-of '4 May' is no date; expected YYYY-MM-DD"):
        run("--site", "yard", "--as-of", "4 May")


@pytest.mark.django_db
@pytest.mark.parametrize("day", ["9999-12-31", "9990-01-01", "0001-01-01"])
def test_a_day_of_no_books_is_refused_in_a_sentence(day):
    with pytest.raises(CommandError, match=f"--as-of {day} is no day of any books; expected a year from 1900 to 2999"):
        run("--site", "yard", "--as-of", day)


@pytest.mark.django_db
@pytest.mark.parametrize("day", ["2999-12-31", "1900-01-01"])
def test_the_first_and_the_last_day_are_reckoned(day):
    SiteFactory(slug="yard", timezone="Pacific/Kiritimati")
    assert f"as of {day}" in run("--site", "yard", "--as-of", day)[0]
