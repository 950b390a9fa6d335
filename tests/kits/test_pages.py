"""Forms, filters and downloads of the pages, with good and bad input."""

import io
import json
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from kits.models import Kit, KitLine, PackingLine, Shipment
from kits.overview.due import ORDER, due
from kits.overview.forms import LengthInput
from kits.shortages.lines import CAUSES, Delivery, ItemFacts, Reconciliation, ShortLine, StageReadiness
from takeoff.models import Cable, Item, Measurement, Member, Place, Run, Section, Site, Supplier, User
from takeoff.rules.queries import current_book
from takeoff.rules.rows import RuleRow
from takeoff.rules.services import publish, refresh_takeoffs
from takeoff.runs.services import derive_conductors
from takeoff.sheets import tasks

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    site = Site.objects.create(slug="here", name="Here", timezone="America/Chicago")
    supplier = Supplier.objects.create(site=site, name="S & Sons", lead_time_days=3)
    Item.objects.create(site=site, code="CAP", description="End cap", supplier=supplier, unit_cost=250, pack=10)
    Item.objects.create(site=site, code="TAPE", description="Tape", group="tape")
    cable = Cable.objects.create(site=site, code="C500", size="500", material="Cu", diameter=25)
    run = Run.objects.create(
        site=site, name="CB-1", from_equipment="T1", to_equipment="SG-1", tiers=1, phases=3, cables_per_phase=1,
        cable=cable, voltage_class="LV", ground_cables=0,
    )  # fmt: skip
    Section.objects.create(run=run, seq=1, kind="straight", length=Decimal("3048"))
    derive_conductors(site=site, run=run, existing={})
    rows = [RuleRow("caps", "CAP", "cables", "conductor end", "each", 10_000, "common practice")]
    publish(site=site, rows=rows)
    refresh_takeoffs(site=site)
    return site


@pytest.fixture
def enter(client, site):
    """Sign in with roles on the site and get the client back."""

    def signed_in(*roles: str):
        user = User.objects.create(username="-".join(roles))
        for role in roles:
            Member.objects.create(site=site, user=user, role=role)
        client.force_login(user)
        return client

    return signed_in


def sheet(text: str, name: str = "stages.csv") -> dict:
    return {"chosen": [SimpleUploadedFile(name, text.encode())]}


@pytest.mark.parametrize("listed", ["runs", "stock", "stock_places", "shortages"])
@pytest.mark.parametrize(
    "asked",
    [
        "?sort=nonsense&page=zzz",
        "?page=999999",
        "?page=-1",
        "?q=%00%27%22%3Cscript%3E",
        "?cable=abc&location=nowhere&voltage_class=1&open_stage=x&group=zz&kind=zz&supplier=zz&cause=zz&run=zz",
        "?sort=cost&sort=-code&sort=..%2F",
        "?q=" + "x" * 5000,
    ],
    ids=["no such sorting", "far page", "negative page", "markup", "no such choice", "odd sorting", "long"],
)
def test_a_list_answers_whatever_is_asked(enter, listed, asked):
    answer = enter("planner").get(reverse(listed, args=["here"]) + asked)
    assert answer.status_code == 200
    assert "<script>" not in answer.content.decode()


def test_runs_are_found_filtered_and_sorted(enter, site):
    client = enter("viewer")
    cable = Cable.objects.of(site).get()
    for name, to, location in (("CB-2", "MCC-7", "outdoor"), ("CB-3", "SG-9", "indoor")):
        Run.objects.create(
            site=site, name=name, from_equipment="T2", to_equipment=to, tiers=1, phases=3, cables_per_phase=1,
            cable=cable, voltage_class="LV", location=location,
        )  # fmt: skip

    def names(query: str) -> list[str]:
        table = client.get(reverse("runs", args=["here"]) + query).context["table"]
        return [row.record.name for row in table.rows]

    assert names("") == ["CB-1", "CB-2", "CB-3"]
    assert names("?q=mcc-7") == ["CB-2"]
    assert names("?location=outdoor") == ["CB-2"]
    assert names("?sort=-name") == ["CB-3", "CB-2", "CB-1"]
    assert names("?open_stage=covers&q=nothing") == []
    assert "Show all" in client.get(reverse("runs", args=["here"]) + "?q=x").content.decode()


def test_prices_show_only_to_those_who_may_see_them(client, site):
    item = Item.objects.of(site).get(code="CAP")
    for role in Member.Role:
        user = User.objects.create(username=role.value)
        Member.objects.create(site=site, user=user, role=role)
        client.force_login(user)
        sees = role in {Member.Role.PURCHASER, Member.Role.PLANNER}
        for page in (
            reverse("stock_item", args=["here", item.pk]),
            reverse("shortage", args=["here", item.pk]),
            reverse("shortages", args=["here"]),
        ):
            text = client.get(page).content.decode()
            assert ("2.50 USD" in text or "25.00 USD" in text) == sees, (role, page)


def test_the_workbook_is_one_suppliers_and_only_for_who_orders(enter, site):
    supplier = Supplier.objects.of(site).get()
    client = enter("purchaser")
    answer = client.get(reverse("reorder_workbook", args=["here", supplier.pk]))
    assert answer["Content-Type"].startswith("application/vnd.openxmlformats")
    assert "reorder-s-sons-" in answer["Content-Disposition"]
    book = load_workbook(io.BytesIO(answer.content))
    assert "CAP" in {cell.value for sheet in book for row in sheet for cell in row}
    assert client.get(reverse("reorder_workbook", args=["here", 0])).status_code == 404


def test_a_takeoff_line_shows_its_arithmetic_and_a_planner_sets_it(enter, site):
    client = enter("planner")
    run = Run.objects.of(site).get()
    line = run.takeoff.lines.get()
    page = reverse("takeoff_line", args=["here", run.pk, line.pk])
    text = client.get(page).content.decode()
    assert "common practice" in text
    part = client.get(page, headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert "HX-Request" in part["Vary"]

    url = reverse("set_quantity", args=["here", run.pk, line.pk])
    for wrong in (
        {"quantity": "-1", "reason": "x"},
        {"quantity": "7", "reason": " "},
        {"quantity": "a", "reason": "x"},
    ):
        assert client.post(url, wrong).status_code == 422
    assert client.post(url, {"quantity": "1.00001", "reason": "x"}).status_code == 422, "a fifth decimal place"
    assert not run.overrides.exists()
    client.post(url, {"quantity": "12", "reason": "Drawing E-1, note 2"})
    line.refresh_from_db()
    assert (line.quantity, line.computed) == (12, 6)
    client.post(reverse("withdraw_override", args=["here", run.pk, line.pk]))
    line.refresh_from_db()
    assert line.quantity == 6


def test_a_line_of_another_run_or_site_is_not_found(enter, site):
    client = enter("planner")
    run = Run.objects.of(site).get()
    there = Site.objects.create(slug="there", name="There")
    foreign = Place.objects.create(site=there, kind="bin", name="B")
    for url in (
        reverse("takeoff_line", args=["here", run.pk, 987654]),
        reverse("run", args=["here", 987654]),
        reverse("stock_place", args=["here", foreign.pk]),
        reverse("run", args=["there", run.pk]),
    ):
        assert client.get(url).status_code == 404, url


def test_a_foreman_reports_stages_and_lengths(enter, site):
    client = enter("foreman")
    run = Run.objects.of(site).get()
    stage = reverse("report_stage", args=["here", run.pk])
    client.post(stage, {"stage": "enclosure", "planned": "2024-05-01", "done": "2024-05-04"})
    row = run.stages.get()
    # The end of the day on site, not in London.
    assert site.local_date(row.done) == date(2024, 5, 4)
    assert row.done.isoformat() == "2024-05-05T04:59:59+00:00"
    first = row.done
    client.post(stage, {"stage": "enclosure", "planned": "2024-05-02", "done": "2024-05-04"})
    row.refresh_from_db()
    assert row.done == first, "the day it was done is as it was, so is the moment"
    page = client.post(stage, {"stage": "enclosure", "planned": "soon"}, follow=True).content.decode()
    assert "Nothing was changed" in page
    client.post(stage, {"stage": "painting"})
    assert run.stages.count() == 1

    length = reverse("report_length", args=["here", run.pk])
    for wrong in ("", "0", "-3", "about ten", "12' 14\""):
        assert client.post(length, {"length": wrong}).status_code == 422
    client.post(length, {"length": "10' 6\"", "note": "by tape"})
    assert run.measurements.get().length == Decimal("3200.4")
    assert run.conductors.get(name="A1").length == Decimal("3200.4")


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"done": "9999-12-31"}, "Done on: A year from 2000 to 2100."),
        ({"done": "0001-01-01"}, "Done on: A year from 2000 to 2100."),
        ({"planned": "2101-01-01"}, "Planned for: A year from 2000 to 2100."),
        ({"done": "2100-01-01"}, "Done on: Not after today"),
        ({"done": "soon"}, "Done on: This is no date. Write it as year-month-day."),
        ({"stage": "painting"}, "Stage: Select a valid choice."),
    ],
    ids=["last day of all", "first day of all", "planned in another century", "in the future", "no date", "no stage"],
)
def test_a_stage_is_dated_within_the_life_of_a_site(enter, site, sent, said):
    run = Run.objects.of(site).get()
    stage = reverse("report_stage", args=["here", run.pk])
    answer = enter("foreman").post(stage, {"stage": "cables", **sent}, follow=True)
    text = answer.content.decode()
    assert f"Nothing was changed. {said}" in text
    assert "None:" not in text
    assert not run.stages.exists()


def test_cables_without_recorded_cuts_are_done_with_a_word_that_stays(enter, site):
    client = enter("foreman")
    run = Run.objects.of(site).get()
    stage = reverse("report_stage", args=["here", run.pk])
    remark = "3 of 3 conductors have no recorded cut"
    assert (
        f"Cables of CB-1: {remark}."
        in client.post(stage, {"stage": "cables", "done": "2024-05-04"}, follow=True).content.decode()
    )
    assert run.stages.get().done is not None
    assert remark in client.get(reverse("run", args=["here", run.pk])).content.decode()


def test_reopening_a_stage_while_later_ones_are_done_gets_a_word(enter, site):
    client = enter("foreman")
    run = Run.objects.of(site).get()
    stage = reverse("report_stage", args=["here", run.pk])
    for name in ("cables", "seals", "covers"):
        client.post(stage, {"stage": name, "done": "2024-05-04"})
    answer = client.post(stage, {"stage": "cables"}, follow=True)
    assert "Cables of CB-1: open, though seals and covers are done." in answer.content.decode()
    assert (
        "open, though seals and covers are done" in client.get(reverse("run", args=["here", run.pk])).content.decode()
    )


@pytest.mark.parametrize(
    ("length", "said"),
    [
        ("999999999999 ft", "A length as built is at most 10 km."),
        ("999999999999 m", "This is no length: 999999999999 m."),
        ("100.1 ft", "A length as built is at most 10 times the drawn 10&#x27; 0&quot;."),
    ],
)
def test_a_length_that_no_run_has_is_refused(enter, site, length, said):
    run = Run.objects.of(site).get()
    answer = enter("foreman").post(reverse("report_length", args=["here", run.pk]), {"length": length, "meant": "on"})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not run.measurements.exists()


def test_a_length_far_off_the_drawing_is_kept_only_when_it_is_said_to_be_meant(enter, site):
    client = enter("foreman")
    run = Run.objects.of(site).get()
    url = reverse("report_length", args=["here", run.pk])
    assert client.get(reverse("run", args=["here", run.pk])).context["as_built"].fields.keys().isdisjoint({"meant"})

    answer = client.post(url, {"length": "15 ft"})
    assert answer.status_code == 422
    field = answer.context["as_built"]["meant"]
    assert field.label == "Drawn 10' 0\", you wrote 15' 0\": it is meant so."
    meant = field.field.widget.attrs["value"]
    # The box stands for this length, not for whatever else is written next.
    assert client.post(url, {"length": "80 ft", "meant": meant}).status_code == 422
    assert client.post(url, {"length": "15 ft", "meant": "on"}).status_code == 422
    assert not run.measurements.exists()
    assert client.post(url, {"length": "15 ft", "meant": meant}).status_code == 302
    assert run.measurements.get().length == Decimal(4572)


def test_a_refused_length_is_told_at_the_head_of_the_page_and_takes_the_caret(enter, site):
    run = Run.objects.of(site).get()
    text = enter("foreman").post(reverse("report_length", args=["here", run.pk]), {"length": "ten"}).content.decode()
    head, _, rest = text.partition('id="strip"')
    assert 'href="#id_length"' in head
    (field,) = [tag for tag in rest.split("<") if 'id="id_length"' in tag]
    assert "autofocus" in field
    assert text.count("autofocus") == 1


def test_a_section_is_reported_and_every_measurement_is_listed_and_can_be_taken_back(enter, site):
    client = enter("foreman")
    run = Run.objects.of(site).get()
    Section.objects.create(run=run, seq=2, kind="straight", length=Decimal("3048"))
    page, url = (reverse(name, args=["here", run.pk]) for name in ("run", "report_length"))
    assert client.post(url, {"length": "10 ft", "section": "7"}).status_code == 422
    client.post(url, {"length": "21 ft", "note": "by laser"})
    client.post(url, {"length": "10.5 ft", "section": "2", "note": "by tape"})
    whole, section = run.measurements.all()
    assert (whole.section_seq, section.section_seq, section.note) == (None, 2, "by tape")
    answer = client.get(page)
    assert answer.context["page"].measurements == ((section, True), (whole, False))
    assert answer.context["page"].facts.centre_line == 62_484_000  # 10 ft as drawn and 10.5 ft as built

    back = reverse("take_back_length", args=["here", run.pk, section.pk])
    text = client.post(back, follow=True).content.decode()
    assert "Taken back: 10&#x27; 6&quot; of section 2" in text
    assert list(run.measurements.all()) == [whole]
    assert run.conductors.get(name="A1").length == Decimal("6400.8"), "the whole run counts again"
    assert "taken back already" in client.post(back, follow=True).content.decode()


def test_who_only_looks_takes_no_length_back(enter, site):
    run = Run.objects.of(site).get()
    made = Measurement.objects.create(run=run, length=3048, at=datetime(2024, 5, 4, tzinfo=UTC))
    client = enter("viewer")
    text = client.get(reverse("run", args=["here", run.pk])).content.decode()
    assert "Lengths as built" in text
    assert "Take back" not in text
    assert client.post(reverse("take_back_length", args=["here", run.pk, made.pk])).status_code == 403
    elsewhere = Run.objects.create(
        site=site, name="CB-2", from_equipment="T2", to_equipment="S", tiers=1, phases=3, cables_per_phase=1,
        cable=run.cable, voltage_class="LV",
    )  # fmt: skip
    client = enter("planner")
    client.post(reverse("take_back_length", args=["here", elsewhere.pk, made.pk]))
    assert run.measurements.count() == 1, "it is none of that run's"


def test_what_is_lacking_is_named_by_its_description_with_the_delivery_that_comes_next(enter, site):
    run = Run.objects.of(site).get()
    supplier, item = Supplier.objects.of(site).get(), Item.objects.of(site).get(code="CAP")
    page = reverse("run", args=["here", run.pk])
    client = enter("planner")
    lacks = 'lacks 6 End cap <span class="small">(CAP)</span>'
    assert lacks + ";" in client.get(page).content.decode()
    for name, day in (("S-1", date(2098, 5, 9)), ("S-2", date(2098, 5, 4)), ("S-3", None)):
        shipment = Shipment.objects.create(site=site, name=name, supplier=supplier, expected=day)
        PackingLine.objects.create(shipment=shipment, item=item, quantity=1)
    assert lacks + ", expected 4 May" in client.get(page).content.decode()
    client.post(reverse("report_stage", args=["here", run.pk]), {"stage": "cables", "planned": str(site.today())})
    assert lacks + ", expected 4 May" in client.get(reverse("today", args=["here"])).content.decode()


def test_an_item_of_two_stages_says_where_its_promise_is_told(enter, site):
    run = Run.objects.of(site).get()
    kit = Kit.objects.create(site=site, name="K", run=run)
    KitLine.objects.create(kit=kit, item=Item.objects.of(site).get(code="CAP"), quantity=9)
    rows = [
        RuleRow(stage, "CAP", stage, "conductor end", "each", 10_000, "common practice")
        for stage in ("cables", "terminations")
    ]
    publish(site=site, rows=rows)
    refresh_takeoffs(site=site)
    text = enter("planner").get(reverse("run", args=["here", run.pk])).content.decode()
    assert "within the 9 promised for all stages, told at cables" in text


def test_a_length_field_names_the_unit_of_the_site():
    metric = LengthInput(site=Site(unit="m"))
    assert metric.clean("3.2") == Decimal(3200)
    assert LengthInput(site=Site(unit="ft")).clean(" 1 ") == Decimal("304.8")


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
    user = User.objects.create(username="u")
    file = SimpleUploadedFile("stages.csv", b"run,stage\nCB-1,covers\n")
    upload = tasks.keep(site=site, user=user, files=[file])
    monkeypatch.setattr(tasks, "load_sheets", lambda **_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        tasks.work_in_background.func(upload.token)
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
    assert answer.context["upload"].moved == {"CB-1": [["CAP", "cables", "6", "18"]]}
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


def test_today_reads_in_the_order_of_the_role():
    day = date(2026, 5, 4)
    zero = dict.fromkeys(
        (
            *(
                "takeoff",
                "drawn",
                "promised",
                "ordered",
                "shipped",
                "counted",
                "rejected",
                "on_hand",
                "usable",
                "issued",
            ),
            *("used", "inbound", "need", "need_expected", "need_covered", "short", "order", "learned", "timing"),
        ),
        0,
    )
    coming = (
        Delivery("shipment", "S-1", 5, date(2026, 5, 1), late=True),
        Delivery("shipment", "S-1", 5, date(2026, 5, 1)),
    )
    line = ShortLine(
        ItemFacts(1, "A"), **zero, short_on=None, order_by=None, causes=dict.fromkeys(CAUSES, 0), deliveries=coming
    )
    stages = tuple(
        StageReadiness(1, "R", stage, planned, state)
        for stage, planned, state in (
            ("enclosure", date(2026, 4, 1), "done"),
            ("cables", date(2026, 5, 3), "ready"),
            ("seals", date(2026, 5, 18), "blocked by"),
            ("covers", date(2026, 5, 19), "blocked by"),
            ("terminations", None, "blocked by"),
        )
    )
    found = Reconciliation("here", day, lines=(line,), readiness=stages)
    for role, order in ORDER.items():
        assert due(found, frozenset({role})).order == order
    shown = due(found, frozenset({"viewer"}))
    assert [row.stage for row in shown.work] == ["cables", "seals"], "open and planned within two weeks"
    (arrival,) = shown.deliveries
    assert (arrival.name, arrival.items, arrival.late) == ("S-1", 2, True)


@pytest.mark.parametrize(
    ("listed", "said"),
    [
        ("today", "No stage is planned within two weeks"),
        ("runs", "No runs yet"),
        ("stock", "No items yet"),
        ("stock_places", "No places yet"),
        ("shortages", "Nothing runs short"),
        ("rules", "No rules yet"),
    ],
)
def test_an_empty_site_says_what_to_do_next(client, listed, said):
    empty = Site.objects.create(slug="new", name="New")
    user = User.objects.create(username="planner")
    Member.objects.create(site=empty, user=user, role="planner")
    client.force_login(user)
    text = client.get(reverse(listed, args=["new"])).content.decode()
    assert said in text
    assert 'class="empty"' in text


def test_pages_are_served_under_a_policy_without_inline_script_or_style(enter, site):
    answer = enter("planner").get(reverse("run", args=["here", Run.objects.of(site).get().pk]))
    policy = answer["Content-Security-Policy"]
    assert "unsafe-inline" not in policy
    assert "unsafe-eval" not in policy
    text = answer.content.decode()
    assert " style=" not in text
    assert "<style" not in text
    assert "<script>" not in text
    assert " onclick" not in text
    assert answer["X-Frame-Options"] == "DENY"


def test_deliveries_that_were_not_as_listed_show_until_the_claim_runs_out(site):
    from datetime import UTC, datetime, timedelta

    from kits.models import PackingLine, Receipt, ReceiptLine, Shipment
    from kits.overview.queries import open_claims
    from kits.stock.models import Posting

    supplier = Supplier.objects.of(site).get()
    item = Item.objects.of(site).get(code="CAP")
    now = datetime.now(tz=UTC)
    for name, days, counted in (("S-1", 1, 4), ("S-2", 30, 4), ("S-3", 400, 4), ("S-4", 1, 10)):
        shipment = Shipment.objects.create(site=site, name=name, supplier=supplier)
        line = PackingLine.objects.create(shipment=shipment, item=item, quantity=10)
        at = now - timedelta(days=days)
        posting = Posting.objects.create(
            site=site, event_id=name, kind="receipt", content_hash="x", at=at, recorded_at=at
        )
        receipt = Receipt.objects.create(posting=posting, shipment=shipment)
        ReceiptLine.objects.create(
            receipt=receipt, packing_line=line, item=item, counted=counted, covers=counted, condition="good"
        )
    found = open_claims(site)
    assert [claim.shipment.name for claim in found] == ["S-1", "S-2"], "as listed, and too long ago, are left out"
    assert [claim.concealed for claim in found] == [True, False]
    assert found[0].what == (("short", 1),)
