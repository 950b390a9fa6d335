"""An upload is checked, looked at, and loaded as it was seen or not at all."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from takeoff.models import RuleBook, Site, Stage, Supplier, User
from takeoff.sheets.files.sources import Sheet
from takeoff.sheets.services import load_sheets
from takeoff.uploads import services as uploads
from tests.takeoff.sheets.books import PACKAGE

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(settings, tmp_path) -> Site:
    settings.MEDIA_ROOT = tmp_path
    result = load_sheets(
        sheets=[Sheet(name, rows[0], list(enumerate(rows[1:], 2))) for name, rows in PACKAGE.items()], slug="s"
    )
    assert result.loaded, result.problems
    return Site.objects.get()


def upload(site, **tables) -> uploads.Upload:
    """Keep tables as files of one person and check them."""
    user = User.objects.get_or_create(username="planner")[0]
    files = []
    for name, rows in tables.items():
        file = io.StringIO()
        csv.writer(file).writerows(rows)
        files.append(SimpleUploadedFile(f"{name}.csv", file.getvalue().encode()))
    kept = uploads.keep(site=site, user=user, files=files)
    uploads.set_to_work(kept, loading=False)
    return kept


def rules(**changed):
    heads, first, *others = PACKAGE["rules"]
    return [heads, [changed.get(head, value) for head, value in zip(heads, first, strict=True)], *others]


def test_what_was_seen_is_loaded(site):
    kept = upload(site, suppliers=[["supplier", "lead_time_days"], ["Tin and Copper", 9]])
    uploads.set_to_work(kept, loading=True)
    assert (kept.state, kept.again) == ("loaded", False)
    assert Supplier.objects.of(site).get(name="Tin and Copper").lead_time_days == 9


def test_what_somebody_else_loaded_in_between_is_not_undone_unseen(site):
    mine = upload(site, rules=rules(amount=3))
    theirs = upload(site, rules=rules(spacing="24 in"))
    uploads.set_to_work(theirs, loading=True)
    assert RuleBook.objects.of(site).count() == 2

    uploads.set_to_work(mine, loading=True)

    assert (mine.state, mine.again) == ("checked", True)
    assert RuleBook.objects.of(site).count() == 2, "nothing was loaded"
    assert mine.result["tables"][0]["changes"][0]["details"] == ["amount: 1 → 3", "spacing: 2' 0\" → 3' 0\""]

    uploads.set_to_work(mine, loading=True)
    assert (mine.state, mine.again) == ("loaded", False)


def test_a_file_that_changes_nothing_says_so(site):
    assert upload(site, rules=rules()).result["touches"] is False
    assert upload(site, rules=rules(amount=2)).result["touches"] is True


def test_each_row_shows_its_own_bad_cells(site):
    kept = upload(
        site,
        stages=[["run", "stage", "planned"], ["R-101", "painting", "2026-05-01"]],
        sections=[["run", "seq", "kind", "length"], ["R-101", 1, "straight", "long"]],
    )
    bad = {row["sheet"]: [cell["head"] for cell in row["cells"] if cell["bad"]] for row in kept.result["bad_rows"]}
    assert bad == {"stages": ["stage"], "sections": ["length"]}


def test_all_that_is_wrong_with_a_row_is_told_at_once(site):
    kept = upload(site, stages=[["run", "stage", "planned"], ["R-999", "painting", "soon"]])
    assert sorted(problem["column"] for problem in kept.result["problems"]) == ["planned", "run", "stage"]
    assert not Stage.objects.of(site).filter(run__name="R-999").exists()


def test_a_load_that_breaks_is_kept_as_failed(site, monkeypatch):
    kept = upload(site, suppliers=[["supplier"], ["Tin and Copper"]])
    monkeypatch.setattr(uploads, "load_sheets", lambda **_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        uploads.set_to_work(kept, loading=True)
    assert uploads.find(site=site, user=User.objects.get(), token=kept.token).state == "failed"
