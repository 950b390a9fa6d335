"""What is reported of stages on a run's page: done in one touch, asked first, taken back, and what they used."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from kits.models import Balance
from kits.overview.services import answer_use
from kits.shortages.queries import reconcile
from kits.stock.places import Places
from takeoff.models import Item, NothingUsed, Record, Run, Stage
from takeoff.records.services import keep_one
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.services import publish, refresh_takeoffs
from tests.factories.takeoff import ItemFactory
from tests.kits.overview.test_run_page import say

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(site):
    return Run.objects.of(site).get()


@pytest.fixture
def foreman(enter):
    return enter("foreman")


def need_of(site, code="CAP"):
    (line,) = [line for line in reconcile(site).lines if line.item.code == code]
    return line.need // 10_000


def answer(client, run, answer, code="CAP", stage="cables", **more):
    item = Item.objects.of(run.site).get(code=code)
    url = reverse("answer_use", args=[run.site.slug, run.pk])
    sent = {"stage": stage, "item": item.pk, "answer": answer, **more}
    return client.post(url, sent, follow=True).content.decode()


def put(site, code, quantity, by=None):
    row = {"item": Item.objects.of(site).get(code=code), "bin": "Store", "counted": quantity}
    at = site.start_of(site.today() - timedelta(days=9))
    keep_one(site=site, kind="counts", row={"id": f"count-{code}", "at": at, **row}, sender=by)


def handed_out(site, code="CAP"):
    rows = Balance.objects.of(site).filter(item__code=code, place__kind="handed_out")
    return sum(row.quantity for row in rows)


def test_done_today_is_one_touch_and_says_the_date(foreman, site, run):
    today = site.today()
    page = foreman.get(reverse("run", args=["here", run.pk])).content.decode()
    assert f"Done today, {today:%-d %b}" in page
    Stage.objects.create(run=run, stage="enclosure", planned=today)
    text = say(foreman, run, stage="enclosure", done=str(today))
    assert f"Enclosure of CB-1: done on {today:%-d %b %Y}. It is kept." in text
    assert run.stages.get().planned == today, "when it was planned stays"


def test_out_of_order_is_asked_and_nothing_is_kept_until_it_is_said_to_be_so(foreman, site, run):
    url = reverse("report_stage", args=["here", run.pk])
    asked = foreman.post(url, {"stage": "covers", "done": str(site.today())})
    assert asked.status_code == 422
    assert "Not done yet: cables." in asked.content.decode()
    assert not Record.objects.of(site).filter(kind="stage_reports").exists()
    say(foreman, run, stage="covers", done=str(site.today()))
    assert run.stages.get(stage="covers").done


def test_a_stage_is_taken_back_by_a_record_and_both_stay(foreman, site, run):
    url = reverse("take_back_stage", args=["here", run.pk])
    assert "open already" in foreman.post(url, {"stage": "enclosure"}, follow=True).content.decode()
    say(foreman, run, stage="enclosure", done=str(site.today()))
    text = foreman.post(url, {"stage": "enclosure"}, follow=True).content.decode()
    assert "Taken back: enclosure of CB-1 done." in text
    assert run.stages.get().done is None
    assert list(Record.objects.of(site).order_by("pk").values_list("kind", flat=True)) == ["stage_reports", "reversals"]


def test_what_a_sheet_of_stages_told_is_reported_open(foreman, site, run):
    Stage.objects.create(run=run, stage="enclosure", done=site.start_of(site.today()))
    foreman.post(reverse("take_back_stage", args=["here", run.pk]), {"stage": "enclosure"})
    assert run.stages.get().done is None
    assert Record.objects.of(site).get().kind == "stage_reports"


def test_a_done_stage_with_nothing_handed_out_is_asked_about(foreman, site, run):
    say(foreman, run, stage="cables", done=str(site.today()))
    assert need_of(site) == 6, "its need stands"
    page = foreman.get(reverse("run", args=["here", run.pk])).content.decode()
    assert "Cables: done, and nothing handed out of 1 item. What did it use?" in page
    today = foreman.get(reverse("today", args=["here"])).content.decode()
    assert "1 finished stage to say what was used" in today


def test_used_as_planned_is_one_touch_and_hands_the_takeoff_out(foreman, site, run):
    put(site, "CAP", 10)
    say(foreman, run, stage="cables", done=str(site.today() - timedelta(days=2)))
    assert "1 item: handed out. It is kept." in answer(foreman, run, "planned")
    assert (handed_out(site), need_of(site)) == (6, 0)
    issue = Record.objects.of(site).get(kind="issues")
    assert site.local_date(issue.at) == site.today() - timedelta(days=2), "of the day on which it was done"
    assert "0 items: handed out" in answer(foreman, run, "planned"), "once"
    assert handed_out(site) == 6


def test_items_answered_together_are_locked_in_the_houses_order_whatever_they_are_called(foreman, site, run):
    later = ItemFactory(site=site, code="BAND")
    rows = [
        RuleRow(name, code, "cables", "conductor end", "each", 10_000, "common practice")
        for name, code in (("caps", "CAP"), ("bands", "BAND"))
    ]
    publish(site=site, rows=rows)
    refresh_takeoffs(site=site)
    for code in ("CAP", "BAND"):
        put(site, code, "100")
    say(foreman, run, stage="cables", done=str(site.today()))
    items = {later.pk, Item.objects.of(site).get(code="CAP").pk}
    told = answer_use(site=site, run=run, stage="cables", items=items)
    assert len(told) == 2  # the tests' watch over locks fails where the first by name is locked before the first by key


def test_a_count_since_then_is_left_alone(foreman, site, run):
    put(site, "CAP", 10)
    done = site.today() - timedelta(days=4)
    say(foreman, run, stage="cables", done=str(done))
    row = {"item": Item.objects.of(site).get(code="CAP"), "bin": "Store", "counted": Decimal(4)}
    keep_one(site=site, kind="counts", row={"id": "again", "at": site.start_of(done + timedelta(days=2)), **row})
    answer(foreman, run, "planned")
    assert handed_out(site) == 6
    assert Balance.objects.of(site).get(place=Places(site).bin("Store")).quantity == 4, "it was counted without them"


def test_nothing_used_is_a_record_and_can_be_taken_back(foreman, site, run):
    say(foreman, run, stage="cables", done=str(site.today()))
    assert "1 item: nothing used. It is kept." in answer(foreman, run, "nothing")
    assert need_of(site) == 0
    record = Record.objects.of(site).get(kind="nothing_used")
    assert NothingUsed.objects.of(site).get().event_id == record.event_id
    row = {"id": "back", "reverses": record.event_id, "at": record.at, "reason": "a mistake"}
    keep_one(site=site, kind="reversals", row=row)
    assert need_of(site) == 6


def test_a_figure_is_handed_out_and_one_of_nothing_is_nothing_used(foreman, site, run):
    put(site, "CAP", 10)
    say(foreman, run, stage="cables", done=str(site.today()))
    assert "Used: Say how much was used." in answer(foreman, run, "figure")
    assert "Used:" in answer(foreman, run, "figure", quantity="-1")
    answer(foreman, run, "figure", quantity="7")
    assert (handed_out(site), need_of(site)) == (7, 0)


def test_a_figure_of_nothing_is_nothing_used(foreman, site, run):
    say(foreman, run, stage="cables", done=str(site.today()))
    answer(foreman, run, "figure", quantity="0")
    assert Record.objects.of(site).filter(kind="nothing_used").count() == 1


def test_what_the_books_do_not_hold_is_refused_with_the_way_out(foreman, site, run):
    put(site, "CAP", 4)
    say(foreman, run, stage="cables", done=str(site.today()))
    text = answer(foreman, run, "planned")
    assert "Nothing was kept." in text
    assert "Count what lies there first, or say how much was used." in text
    assert (handed_out(site), need_of(site)) == (0, 6)


def test_who_only_looks_answers_nothing(enter, site, run):
    viewer = enter("viewer")
    item = Item.objects.of(site).get(code="CAP")
    for name, sent in (
        ("answer_use", {"stage": "cables", "item": item.pk, "answer": "nothing"}),
        ("take_back_stage", {"stage": "cables"}),
    ):
        assert viewer.post(reverse(name, args=["here", run.pk]), sent).status_code == 403
