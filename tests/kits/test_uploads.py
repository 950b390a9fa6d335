"""Sheets that are sent, looked at and loaded, on the web."""

import io
import json
from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from takeoff.models import Run
from takeoff.rules.queries import current_book
from takeoff.uploads import services as uploads
from tests.factories.takeoff import UserFactory

pytestmark = pytest.mark.django_db


def sheet(text: str, name: str = "stages.csv") -> dict:
    return {"chosen": [SimpleUploadedFile(name, text.encode())]}


def test_an_upload_is_shown_first_and_kept_only_when_confirmed(enter, site):
    client = enter("planner")
    answer = client.post(
        reverse("load_sheets", args=["here"]), sheet("run,stage,planned\nCB-1,covers,2026-08-01\n"), follow=True
    )
    text = answer.content.decode()
    assert "Checked, not loaded yet" in text
    assert "1 new, 0 changed, 0 removed, 0 unchanged" in text
    run = Run.objects.of(site).get()
    assert not run.stages.exists()
    token = answer.context["upload"].token
    client.post(reverse("confirm_upload", args=["here", token]))
    assert run.stages.get().planned == date(2026, 8, 1)
    text = client.get(reverse("upload", args=["here", token])).content.decode()
    assert "Loaded" in text
    client.post(reverse("confirm_upload", args=["here", token]))
    assert run.stages.count() == 1, "confirming twice loads once"


def test_problems_are_told_by_cell_with_the_row_they_stand_in(enter, site):
    client = enter("planner")
    wrong = "run,stage,planned\nCB-1,covers,2026-08-01\nCB-7,covers,soon\n"
    answer = client.post(reverse("load_sheets", args=["here"]), sheet(wrong), follow=True)
    text = answer.content.decode()
    assert 'href="#stages-3"' in text
    assert 'id="stages-3"' in text
    assert "nothing loaded" in text
    (row,) = answer.context["upload"].result["bad_rows"]
    assert [cell["text"] for cell in row["cells"] if cell["bad"]] == ["CB-7", "soon"]
    assert not Run.objects.of(site).get().stages.exists()


def test_cautions_are_looked_at_before_loading(enter, site):
    client = enter("planner")
    long = "run,seq,kind,length\nCB-1,1,straight,60 ft\n"
    answer = client.post(reverse("load_sheets", args=["here"]), sheet(long, "sections.csv"), follow=True)
    token = answer.context["upload"].token
    assert answer.context["upload"].result["cautions"]
    confirm = reverse("confirm_upload", args=["here", token])
    assert client.post(confirm, {}).status_code == 422
    section = Run.objects.of(site).get().sections.get()
    assert section.length == 3048
    client.post(confirm, {"looked": "on"})
    section = Run.objects.of(site).get().sections.get()
    assert section.length == Decimal("18288")


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({}, "Choose a file first"),
        (sheet("a", "notes.txt"), "neither a workbook (.xlsx) nor a CSV"),
        (sheet("no zip", "book.xlsx"), "damaged or no workbook"),
        ({"chosen": [SimpleUploadedFile("runs.csv", b"")]}, "This file is empty"),
        ({"chosen": [SimpleUploadedFile("runs.csv", b"\xff\xfe\x00")]}, "not in UTF-8"),
    ],
    ids=["none", "other kind", "no workbook", "empty", "not text"],
)
def test_a_file_that_cannot_be_read_is_refused_with_a_reason_and_leaves_nothing(enter, site, tmp_path, files, said):
    answer = enter("planner").post(reverse("load_sheets", args=["here"]), files)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not list((tmp_path / "loads").glob("*"))


def test_an_upload_belongs_to_who_made_it(enter, site):
    client = enter("planner")
    answer = client.post(reverse("load_sheets", args=["here"]), sheet("run,stage\nCB-1,covers\n"), follow=True)
    url = reverse("upload", args=["here", answer.context["upload"].token])
    assert client.get(url).status_code == 200
    other = enter("planner", "viewer")
    assert other.get(url).status_code == 404


def test_a_load_that_breaks_says_so(site, tmp_path, monkeypatch):
    user = UserFactory(username="u")
    file = SimpleUploadedFile("stages.csv", b"run,stage\nCB-1,covers\n")
    upload = uploads.keep(site=site, user=user, files=[file])
    monkeypatch.setattr(uploads, "load_sheets", lambda **_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        uploads.work_in_background.func(upload.token)
    state = json.loads((tmp_path / "loads" / upload.token / "state.json").read_text())
    assert state["state"] == "failed"


def test_a_changed_book_says_what_it_moves_and_the_books_sheet_loads_unchanged(enter, site):
    client = enter("planner")
    content = client.get(reverse("rule_book_sheet", args=["here", 1])).content
    files = {"chosen": [SimpleUploadedFile("rules.xlsx", content)]}
    answer = client.post(reverse("load_sheets", args=["here"]), files, follow=True)
    assert "0 new, 0 changed, 0 removed, 1 unchanged" in answer.content.decode()

    book = load_workbook(io.BytesIO(content))
    book["rules"]["F2"] = 3
    file = io.BytesIO()
    book.save(file)
    files = {"chosen": [SimpleUploadedFile("rules.xlsx", file.getvalue())]}
    answer = client.post(reverse("load_sheets", args=["here"]), files, follow=True)
    assert answer.context["upload"].result["effects"]["moved"] == {"CB-1": [["CAP", "cables", "6", "18"]]}
    assert current_book(site).version == 1
    client.post(reverse("confirm_upload", args=["here", answer.context["upload"].token]))
    assert current_book(site).version == 2
    assert "Book 2" in client.get(reverse("rules", args=["here"])).content.decode()
    assert client.get(reverse("rule_book", args=["here", 9])).status_code == 404


def test_empty_tables_are_given_out_one_or_all(enter, site):
    client = enter("planner")
    book = load_workbook(io.BytesIO(client.get(reverse("empty_table", args=["here", "runs"])).content))
    assert "runs" in book.sheetnames
    assert len(load_workbook(io.BytesIO(client.get(reverse("empty_tables", args=["here"])).content)).sheetnames) > 10
    assert client.get(reverse("empty_table", args=["here", "nothing"])).status_code == 404
