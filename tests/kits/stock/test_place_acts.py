"""What is done on a page with what lies at a place: moved, scrapped, released, counted blind, taken back."""

import re
from html import unescape

import pytest
from django.urls import reverse

from kits.models import Posting
from takeoff.models import Place, Site
from tests.factories.kits import PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, member
from tests.kits.makers import counted, lying, received, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def items(site):
    return [ItemFactory(site=site, code=code) for code in ("LUG", "CAP")]


@pytest.fixture
def store(client, site):
    client.force_login(member(site, "storekeeper"))
    return client


def fields_of(page: str, said: str) -> tuple[str, dict[str, str]]:
    """The address and the untouched fields of the one form of a page that holds a text."""
    (form,) = [form for form in re.findall(r"<form.*?</form>", page, re.S) if said in form]
    fields = {}
    for tag in re.findall(r"<input[^>]*>", form):
        parts = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if parts.get("type") != "checkbox" or re.search(r"\bchecked\b", tag):
            fields[parts["name"]] = unescape(parts.get("value", ""))
    action = re.search(r'<form[^>]*action="([^"]+)"', form)
    return action[1] if action else "", fields


def place(site, name) -> Place:
    return Place.objects.of(site).get(name=name)


def page_of(client, name, *args) -> str:
    return client.get(reverse(name, args=["here", *args])).content.decode()


def test_a_whole_bin_moves_in_one_act(site, items, store):
    stocked(items[0], 5, "A")
    stocked(items[1], 7, "A")
    url = reverse("place_act", args=["here", place(site, "A").pk, "move"]) + "?all"
    action, fields = fields_of(store.get(url).content.decode(), "Move what is ticked")
    stocked(items[0], 1, "B")
    assert store.post(action, fields | {"target": "B"}).status_code == 302
    assert [lying(item).get("bin A", 0) for item in items] == [0, 0]
    assert [lying(item)["bin B"] for item in items] == [6, 7]


def test_only_what_is_ticked_moves(site, items, store):
    stocked(items[0], 5, "A")
    stocked(items[1], 7, "A")
    stocked(items[0], 1, "B")
    action, fields = fields_of(page_of(store, "place_act", place(site, "A").pk, "move"), "Move what is ticked")
    assert not [name for name in fields if name.endswith("-id")]
    answer = store.post(action, fields | {"target": "B", "2-id": "x", "2-quantity": "2"})
    assert answer.status_code == 302
    assert lying(items[0])["bin A"] + lying(items[1])["bin A"] == 10


def test_scrap_asks_why(site, items, store):
    stocked(items[0], 5, "A")
    action, fields = fields_of(page_of(store, "place_act", place(site, "A").pk, "scrap"), "Scrap what is ticked")
    fields |= {"1-id": "x", "1-quantity": "2"}
    assert store.post(action, fields).status_code == 422
    assert store.post(action, fields | {"reason": "bent"}).status_code == 302
    assert lying(items[0]) == {"bin A": 3, "scrap Scrap": 2, "lost_found Lost and found": -5}


def test_what_is_on_hold_is_released_and_a_refused_grade_never(site, items, store):
    item = items[0]
    item.refuse = "acrylic"
    item.save()
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=5)
    received(shipment, counted(item, 3, condition="damaged"), counted(item, 2, grade="acrylic"))
    assert "On hold, by why" in page_of(store, "stock_held")
    for name, status in (("Quarantine, damaged", 302), ("Quarantine, refused", 422)):
        found = place(site, name)
        assert store.get(reverse("place_act", args=["here", found.pk, "move"])).status_code == 404
        action, fields = fields_of(page_of(store, "place_act", found.pk, "release"), "Release what is ticked")
        fields |= {"1-id": name, "bin": "Shelf", "reason": "looked at again"}
        assert store.post(action, fields).status_code == status
    assert lying(item)["bin Shelf"] == 3
    assert lying(item)["quarantine Quarantine, refused"] == 2


def test_a_bin_is_counted_blind_then_compared_then_kept(site, items, store):
    stocked(items[0], 50, "A")
    stocked(items[1], 70, "A")
    found = place(site, "A")
    page = page_of(store, "count_place", found.pk)
    assert "50" not in re.sub(r"<[^>]*>", "", page)
    _, fields = fields_of(page, "Show what differs")
    ItemFactory(site=site, code="BAND")
    fields |= {"1-counted": "70", "100-item": "BAND", "100-counted": "4"}
    codes = [fields["1-item"], fields["2-item"]]
    review = store.post(reverse("count_place", args=["here", found.pk]), fields)
    assert review.status_code == 200
    assert Posting.objects.of(site).count() == 2, "nothing is kept before it was looked at"
    action, fields = fields_of(review.content.decode(), "Keep the count")
    assert store.post(action, fields | {"reason": "yearly"}).status_code == 302
    kept = Posting.objects.of(site).filter(reason="yearly")
    counts = {str(one.bin_count.item): int(one.bin_count.counted) for one in kept}
    assert counts == {codes[0]: 70, "BAND": 4}, "what was left blank is not counted"


def test_a_figure_that_cannot_be_read_keeps_nothing(site, items, store):
    stocked(items[0], 50, "A")
    found = place(site, "A")
    _, fields = fields_of(page_of(store, "count_place", found.pk), "Show what differs")
    answer = store.post(reverse("count_place", args=["here", found.pk]), fields | {"1-counted": "a few"})
    assert answer.status_code == 422
    assert "cannot be read" in answer.content.decode()


def test_an_act_shows_what_moved_and_is_taken_back_with_a_reason(site, items, store, client):
    kept = stocked(items[0], 5, "A")
    url = reverse("stock_act", args=["here", kept.pk])
    action, fields = fields_of(store.get(url).content.decode(), "Take it back")
    assert store.post(action, fields).status_code == 422
    assert store.post(action, fields | {"reason": "wrong bin"}).status_code == 302
    page = store.get(url).content.decode()
    assert "taken back" in page
    assert "wrong bin" in page
    assert "Take it back</button>" not in page
    client.force_login(member(site, "viewer"))
    assert "Take it back</button>" not in client.get(url).content.decode()


def test_who_only_looks_finds_no_acts(client, site, items):
    stocked(items[0], 5, "A")
    client.force_login(member(site, "viewer"))
    assert "Count it" not in page_of(client, "stock_place", place(site, "A").pk)
    assert client.get(reverse("count_place", args=["here", place(site, "A").pk])).status_code == 403
