"""What a page's form does: one record or several, each by itself, pressed twice, asked about, taken back."""

from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse

from kits.models import Posting
from takeoff.models import Item, Record, Site, User
from tests.factories.kits import PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, MemberFactory, RunFactory, SiteFactory, member
from tests.kits.makers import lying, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def item(site) -> Item:
    return ItemFactory(site=site, code="LUG")


@pytest.fixture
def store(client, site):
    client.force_login(member(site, "storekeeper", username="sam"))
    return client


def send(client, kind: str, fields: dict[str, object]):
    return client.post(reverse("act", args=["here", kind]), fields)


def told(answer) -> list[str]:
    return [str(message) for message in get_messages(answer.wsgi_request)]


def test_a_record_is_of_now_and_pressing_twice_keeps_it_once(store, site, item):
    fields = {"id": "m", "item": "LUG", "counted": "5", "bin": "Shelf", "next": "/here/stock/"}
    first = send(store, "counts", fields)
    assert (first.status_code, first["Location"]) == (302, "/here/stock/")
    assert "Counted: 5 LUG" in store.get(first["Location"]).content.decode()
    assert send(store, "counts", fields).status_code == 302
    assert Posting.objects.of(site).count() == 1
    kept = Record.objects.of(site).get()
    assert timedelta(0) <= kept.recorded_at - kept.at < timedelta(seconds=5)


def test_each_line_stands_by_itself_and_what_is_refused_keeps_what_was_typed(store, site, item):
    ItemFactory(site=site, code="CAP")
    stocked(item, 5)
    run = RunFactory(site=site, name="NORTH")
    fields = {"run": run.name, "stage": "seals", "1-id": "a", "1-item": "LUG", "1-quantity": "3"}
    fields |= {"2-id": "b", "2-item": "CAP", "2-quantity": "4", "3-item": "LUG", "3-quantity": "1"}
    fields |= {"4-id": "d", "4-item": "LUG", "4-quantity": "two"}
    answer = send(store, "issues", fields)
    assert answer.status_code == 422
    assert lying(item)["handed_out NORTH seals"] == 3, "the line without an id was not ticked"
    page = answer.content.decode()
    assert 'name="2-quantity" value="4"' in page
    assert 'name="4-quantity" value="two"' in page
    assert "1-quantity" not in page, "what is in the books is not asked for again"
    assert "1 other is in the books" in page
    assert "CAP: 4 each asked, 0 there." in page


def test_a_question_is_answered_by_its_own_hash_and_nothing_is_kept_before(store, site, item):
    shipment = PackingLineFactory(shipment=ShipmentFactory(site=site, name="S-1"), quantity=4).shipment
    fields = {"1-id": "a", "2-id": "b", "shipment": shipment.name, "1-item": "LUG", "1-counted": "2"}
    fields |= {"2-item": shipment.lines.get().item.code, "2-counted": "4"}
    asked = send(store, "receipts", fields)
    assert asked.status_code == 422
    assert not Record.objects.of(site).exists(), "the good line waits with the other"
    page = asked.content.decode()
    assert "does not name LUG" in page
    question = asked.context["asked"].question
    assert send(store, "receipts", fields | {"confirmed": "another"}).status_code == 422
    assert send(store, "receipts", fields | {"confirmed": question}).status_code == 302
    assert Record.objects.of(site).count() == 2


def test_the_last_act_is_taken_back_in_one_touch(store, site, item):
    send(store, "counts", {"id": "c", "item": "LUG", "counted": "5", "bin": "Shelf"})
    page = store.get(reverse("stock", args=["here"])).content.decode()
    assert "Counted: 5 LUG" in page
    undone = send(store, "reversals", {"1-id": "u", "1-reverses": "c", "reason": "wrong tap", "next": "/here/stock/"})
    assert undone.status_code == 302
    assert told(undone) == ["Taken back."]
    assert lying(item) == {}
    assert "wrong tap" not in store.get(reverse("stock", args=["here"])).content.decode()
    assert Posting.objects.of(site).get(reverses__event_id="c").reason == "wrong tap"


def test_undo_takes_back_all_lines_of_the_last_act_and_pressing_twice_does_it_once(store, site, item):
    fields = {"bin": "Shelf", "1-id": "a", "1-item": "LUG", "1-counted": "5"}
    fields |= {"2-id": "b", "2-item": ItemFactory(site=site, code="CAP").code, "2-counted": "3"}
    send(store, "counts", fields)
    page = store.get(reverse("stock", args=["here"])).content.decode()
    assert "Counted: 2 lines" in page
    assert page.count('value="a"') == 0, "what is undone is kept with the session, not on every page"
    undo = reverse("undo", args=["here"])
    undone = store.post(undo, {"next": "/here/stock/"})
    assert (undone.status_code, told(undone)) == (302, ["Taken back."])
    assert lying(item) == {}
    store.post(undo, {"next": "/here/stock/"})
    assert Posting.objects.of(site).filter(reverses__isnull=False, reason="wrong tap").count() == 2
    assert store.get(undo).status_code == 302


def test_another_site_neither_shows_nor_takes_back_the_last_act(store, site, item):
    MemberFactory(site=SiteFactory(slug="there"), user=User.objects.get(username="sam"), role="storekeeper")
    send(store, "counts", {"id": "c", "item": "LUG", "counted": "5", "bin": "Shelf"})
    assert "Counted: 5 LUG" not in store.get(reverse("stock", args=["there"])).content.decode()


def test_who_may_not_is_refused_whatever_the_kind(client, site, item):
    client.force_login(member(site, "viewer", username="vic"))
    assert send(client, "counts", {"id": "c", "item": "LUG", "counted": "5", "bin": "B"}).status_code == 403
    assert client.get(reverse("act", args=["here", "nothing"])).status_code == 404
    stocked(item, 3, event="s")
    answer = send(client, "reversals", {"id": "u", "reverses": "s", "reason": "wrong tap"})
    assert answer.status_code == 422, "what is taken back decides"
    assert lying(item)


def test_nobody_is_sent_away_from_the_site(store, item):
    fields = {"id": "m", "item": "LUG", "counted": "5", "bin": "Shelf", "next": "https://elsewhere.example/"}
    assert send(store, "counts", fields)["Location"] == reverse("today", args=["here"])


def test_figures_are_typed_as_the_country_writes_them_and_go_on_plainly(store, site, item):
    site.country = "DE"
    site.save()
    assert send(store, "counts", {"id": "a", "item": "LUG", "counted": "1.234,5", "bin": "Shelf"}).status_code == 302
    assert Record.objects.of(site).get().row["counted"] == "1234.5"
    answer = send(store, "counts", {"id": "b", "item": "LUG", "counted": "1,234.5", "bin": "Shelf"})
    assert answer.status_code == 422, "nobody there writes so"
    assert 'value="1,234.5"' in answer.content.decode()


def test_a_form_with_nothing_in_it_says_so(store, item):
    answer = send(store, "counts", {"bin": "Shelf", "1-id": "a", "1-item": "LUG", "1-counted": ""})
    assert answer.status_code == 302
    assert told(answer) == ["Nothing was written: no line was ticked, or no figure stood in it."]


def test_what_a_phone_could_not_send_is_mended_in_a_form_that_holds_it(store, site, item):
    site.country = "DE"
    site.save()
    page = store.get(reverse("act", args=["here", "counts"]) + "?item=LUG&counted=2.5&bin=Shelf").content.decode()
    assert 'value="2,5"' in page
    assert 'value="LUG"' in page
