"""The page of a run: its working, stages and lengths as built, with good and bad input."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from takeoff.models import Item, Run, Supplier
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.services import publish, refresh_takeoffs
from tests.factories.kits import KitFactory, KitLineFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import MeasurementFactory, PlaceFactory, RunFactory, SectionFactory, SiteFactory

pytestmark = pytest.mark.django_db


def say(client, run, **sent):
    """Report a stage, and say that it is so where it is asked; return the page."""
    url = reverse("report_stage", args=[run.site.slug, run.pk])
    answer = client.post(url, sent, follow=True)
    if answer.status_code == 422:
        answer = client.post(url, {**sent, "confirmed": answer.context["question"]}, follow=True)
    return answer.content.decode()


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
    there = SiteFactory(slug="there", name="There")
    foreign = PlaceFactory(site=there, name="B")
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
    assert row.planned == date(2024, 5, 1)
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
    asked = client.post(stage, {"stage": "cables", "done": "2024-05-04"})
    assert asked.status_code == 422
    assert f"{remark}." in asked.content.decode()
    assert "Cables done on 4 May 2024?" in asked.content.decode()
    assert not run.stages.exists(), "nothing is kept before it is said to be so"
    assert client.post(stage, {"stage": "cables", "done": "2024-05-04", "confirmed": "yes"}).status_code == 422
    assert f"Cables of CB-1: {remark}." in say(client, run, stage="cables", done="2024-05-04")
    assert run.stages.get().done is not None
    assert remark in client.get(reverse("run", args=["here", run.pk])).content.decode()


def test_reopening_a_stage_while_later_ones_are_done_gets_a_word(enter, site):
    client = enter("foreman")
    run = Run.objects.of(site).get()
    for name in ("cables", "seals", "covers"):
        say(client, run, stage=name, done="2024-05-04")
    assert "Cables of CB-1: open, though seals and covers are done." in say(client, run, stage="cables")
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
    SectionFactory(run=run, seq=2, length=Decimal("3048"))
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
    made = MeasurementFactory(run=run, length=3048, at=datetime(2024, 5, 4, tzinfo=UTC))
    client = enter("viewer")
    text = client.get(reverse("run", args=["here", run.pk])).content.decode()
    assert "Lengths as built" in text
    assert "Take back" not in text
    assert client.post(reverse("take_back_length", args=["here", run.pk, made.pk])).status_code == 403
    elsewhere = RunFactory(site=site, name="CB-2", cable=run.cable)
    client = enter("planner")
    client.post(reverse("take_back_length", args=["here", elsewhere.pk, made.pk]))
    assert run.measurements.count() == 1, "it is none of that run's"


def test_what_is_lacking_is_named_by_its_description_with_the_delivery_that_comes_next(enter, site):
    run = Run.objects.of(site).get()
    supplier, item = Supplier.objects.of(site).get(), Item.objects.of(site).get(code="CAP")
    page = reverse("run", args=["here", run.pk])
    client = enter("planner")
    assert "Cables lack 6 End cap; not on the way." in client.get(page).content.decode()
    for name, day, quantity in (
        ("S-1", date(2098, 5, 9), 9),
        ("S-2", date(2098, 5, 4), 5),
        ("S-3", None, 9),
    ):
        shipment = ShipmentFactory(site=site, name=name, supplier=supplier, expected=day)
        PackingLineFactory(shipment=shipment, item=item, quantity=quantity)
    text = client.get(page).content.decode()
    assert "Cables lack 6 End cap; they come 9 May." in text, "the fourth of May brings but five of them"
    assert '6 End cap <span class="small">(CAP)</span>: they come 9 May' in text
    client.post(reverse("report_stage", args=["here", run.pk]), {"stage": "cables", "planned": str(site.today())})
    assert "lack 6 End cap; they come 9 May" in client.get(reverse("today", args=["here"])).content.decode()


def test_the_list_of_runs_says_what_the_next_stage_lacks(enter, site):
    client = enter("foreman")
    text = client.get(reverse("runs", args=["here"])).content.decode()
    assert "1 lacks something" in text
    assert "lack 6 End cap; not on the way" in text
    assert 'aria-label="enclosure nothing needed; cables here but for 6 ' not in text
    assert "cables here but for 3 lengths and 1 item, something is missing" in text
    run = Run.objects.of(site).get()
    for stage in ("cables", "terminations"):
        say(client, run, stage=stage, done="2024-05-04")
    text = client.get(reverse("runs", args=["here"])).content.decode()
    assert "1 done" in text
    assert "cables done; seals nothing needed; terminations done" in text


def test_an_item_of_two_stages_says_where_its_promise_is_told(enter, site):
    run = Run.objects.of(site).get()
    kit = KitFactory(site=site, name="K", run=run)
    KitLineFactory(kit=kit, item=Item.objects.of(site).get(code="CAP"), quantity=9)
    rows = [
        RuleRow(stage, "CAP", stage, "conductor end", "each", 10_000, "common practice")
        for stage in ("cables", "terminations")
    ]
    publish(site=site, rows=rows)
    refresh_takeoffs(site=site)
    text = enter("planner").get(reverse("run", args=["here", run.pk])).content.decode()
    assert "within the 9 promised for all stages, told at cables" in text
