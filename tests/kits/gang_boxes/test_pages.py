"""Gang boxes on a page: filled at the store, counted by the foreman, asked for on Today."""

import re
from datetime import datetime, timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kits.gang_boxes import pages
from kits.issuing.leftovers import leftovers
from kits.overview.phone_pages import phone_pages
from takeoff.models import Place, Stage
from tests.factories.takeoff import ItemFactory, member
from tests.kits.gang_boxes.crew import a_run, filled, left
from tests.kits.makers import at, event_id, handed, lying, stocked

pytestmark = pytest.mark.django_db
WEDNESDAY = datetime(2026, 3, 11, 9, tzinfo=at().tzinfo)


@pytest.fixture
def now(monkeypatch):
    def on(day):
        monkeypatch.setattr(timezone, "now", lambda: WEDNESDAY + timedelta(days=day - 11))

    on(11)
    return on


def enter(client, site, role):
    client.force_login(member(site, role))
    return client


def typed(page: str, **cells: str) -> dict[str, str]:
    """The fields of the page's form as they stand, boxes not ticked, with what a person writes."""
    form = next(part for part in re.findall(r"<form.*?</form>", page, re.S) if "data-record" in part)
    fields = {}
    for tag in re.findall(r"<input[^>]*>", form):
        parts = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if parts.get("type") != "checkbox":
            fields[parts["name"]] = unescape(parts.get("value", ""))
    return fields | {name.replace("_", "-", 1): cell for name, cell in cells.items()}


def test_the_store_fills_the_box_of_a_crew_that_has_none_yet(client, site, tape):
    lug = ItemFactory(site=site, code="LUG")
    stocked(lug, 10)
    stocked(tape, 7, "Shelf 4")
    run = a_run(site, "CB-1", tape, 30)
    page = enter(client, site, "storekeeper").get(reverse("fill_gang_box", args=["here"])).content.decode()
    assert "LUG" not in page
    assert "100 rolls in Store" in page
    assert "7 rolls in Shelf 4" in page
    said = typed(page, **{"1_quantity": "7", "target": "Crew A's box"})
    answer = client.post(reverse("act", args=["here", "transfers"]), said, follow=True)
    assert "1 gang box" in answer.content.decode()
    place = Place.objects.of(site).get(kind="gang_box")
    assert (place.crew, lying(tape)["gang_box Crew A's box"]) == (run.crew, 7)


def test_the_foreman_says_what_is_left_in_figures_or_as_about_half(client, site, tape):
    screws = ItemFactory(site=site, code="SCREW", usage="counted")
    stocked(screws, 500)
    a_run(site, "CB-1", tape, 30, done=1)
    filled(tape, 20)
    filled(screws, 101)
    box = Place.objects.of(site).get(kind="gang_box")
    url = reverse("count_gang_box", args=["here", box.pk])
    page = enter(client, site, "foreman").get(url).content.decode()
    assert "20 rolls there before; what is gone went to" not in page  # it was done long ago
    Stage.objects.update(done=timezone.now() - timedelta(hours=1))
    page = client.get(url).content.decode()
    assert "20 rolls there before; what is gone went to CB-1, seals" in page
    assert "101 there before. This crew has worked on no stage that needs it." in page
    act = reverse("act", args=["here", "box_counts"])
    refused = client.post(act, typed(page, **{"1_about": "half", "2_about": "half"}))
    assert refused.status_code == 422
    assert "51 each of SCREW are gone" in refused.content.decode()
    assert lying(screws)["gang_box Crew A's box"] == 101
    assert client.post(act, typed(page, **{"1_counted": "4", "1_gone_to": "not known"})).status_code == 302
    assert lying(tape)["gang_box Crew A's box"] == 10
    assert lying(screws)["gang_box Crew A's box"] == 4


@pytest.mark.parametrize("role", ["storekeeper", "foreman"])
def test_today_asks_what_is_left_when_a_stage_is_done_or_friday_has_come(client, site, tape, now, role):
    run = a_run(site, "CB-1", tape, 30)
    a_run(site, "CB-2", ItemFactory(site=site, code="LUG"), 30)
    filled(tape, 20, number=10)
    client = enter(client, site, role)

    def asked():
        return "What is left in the box?" in client.get(reverse("today", args=["here"])).content.decode()

    assert not asked()
    now(12)
    assert not asked()
    now(13)
    assert asked()  # a Friday
    now(11)
    Stage.objects.filter(run__name="CB-2").update(done=at(11, 8))
    assert not asked()  # it needs nothing that lies in the box
    run.stages.update(done=at(11, 8))
    assert asked()


def test_a_box_is_not_counted_as_a_bin_and_the_viewer_fills_none(client, site, tape):
    a_run(site, "CB-1", tape, 30)
    filled(tape, 20)
    box = Place.objects.of(site).get(kind="gang_box")
    client = enter(client, site, "storekeeper")
    assert client.get(reverse("count_place", args=["here", box.pk])).status_code == 404
    page = client.get(reverse("stock_place", args=["here", box.pk])).content.decode()
    assert reverse("count_gang_box", args=["here", box.pk]) in page
    assert "box=Crew%20A%27s%20box" in page
    assert set(phone_pages(site, frozenset({"foreman"}))) >= {reverse("count_gang_box", args=["here", box.pk])}
    assert reverse("fill_gang_box", args=["here"]) in set(phone_pages(site, frozenset({"storekeeper"})))
    assert reverse("fill_gang_box", args=["here"]) not in set(phone_pages(site, frozenset({"foreman"})))


def test_of_what_a_box_gave_beyond_the_need_nothing_is_asked_back(site, tape, now):
    run = a_run(site, "CB-1", tape, 10, done=5)
    filled(tape, 40)
    left(tape, 10)
    assert leftovers(site) == []
    lug = ItemFactory(site=site, code="LUG")
    stocked(lug, 9)
    handed(lug, 9, run, number=4)
    assert [one.items for one in leftovers(site)] == [1]


def test_the_pages_ask_as_often_for_many_boxes_as_for_few(site, tape):
    def asked() -> list[int]:
        found = []
        box = Place.objects.of(site).filter(kind="gang_box").first()
        for read in (pages.boxes, pages.to_fill, lambda site: pages.in_box(site, box)):
            with CaptureQueriesContext(
                connection,
            ) as queries:
                assert read(site)
            found.append(len(queries))
        return found

    a_run(site, "CB-0", tape, 30, done=5)
    filled(tape, 1)
    few = asked()
    for number in range(8):
        item = ItemFactory(site=site, code=f"T{number}", usage="counted")
        stocked(item, 50)
        crew = f"Crew {number}"
        a_run(site, f"CB-1{number}", item, 30, crew=crew, done=5)
        filled(item, 3, crew=crew, event=event_id())
        filled(item, 3)
    assert asked() == few
