"""A bin is set up on its page: whom it serves, and its number on the walk that pick lists follow."""

import re

import pytest
from django.urls import reverse

from kits.issuing.pages import pick_list
from takeoff.models import Place
from tests.factories.kits import KitFactory
from tests.factories.takeoff import (
    ItemFactory,
    RunFactory,
    SiteFactory,
    TakeoffFactory,
    TakeoffLineFactory,
    member,
)
from tests.kits.makers import stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(slug="here")


@pytest.fixture
def store(client, site):
    client.force_login(member(site, "storekeeper"))
    return client


def set_up(site, name):
    return reverse("set_up_bin", args=["here", Place.objects.of(site).get(name=name).pk])


def test_a_pick_list_follows_the_walk_and_ends_with_bins_that_have_no_number(site, store):
    takeoff = TakeoffFactory(run=RunFactory(site=site, name="CB-1"))
    for code, bin_ in (("A", "Shelf 1"), ("B", "Shelf 2"), ("C", "Shelf 3"), ("D", "Shelf 0")):
        item = ItemFactory(site=site, code=code)
        stocked(item, 5, bin_)
        TakeoffLineFactory(takeoff=takeoff, item=item, stage="seals", quantity=2)
    for bin_, walk in (("Shelf 3", "1"), ("Shelf 1", "20"), ("Shelf 2", "3")):
        assert store.post(set_up(site, bin_), {"walk": walk}).status_code == 302
    rows = pick_list(site, takeoff.run, "seals").rows
    assert [row.taken[0].place for row in rows] == ["Shelf 3", "Shelf 2", "Shelf 1", "Shelf 0"]


def test_a_bin_that_holds_goods_changes_hands_only_once_that_was_seen(site, store):
    item = ItemFactory(site=site)
    stocked(item, 5, "Crate 7")
    kits = [KitFactory(site=site, name=f"kit {n}", run=RunFactory(site=site, name=f"CB-{n}")) for n in (1, 2)]
    url = set_up(site, "Crate 7")

    def chosen(kit, **more):
        answer = store.post(url, {"kit": kit.pk if kit else "", "walk": "", **more})
        return answer.status_code, answer.content.decode()

    def serves():
        return getattr(getattr(Place.objects.of(site).get(name="Crate 7"), "kit_box", None), "kit", None)

    status, page = chosen(kits[0])
    assert (status, serves()) == (422, None)
    assert "Crate 7 holds stock that is for every run: from now on it is for CB-1." in page
    question = re.search(r'name="confirmed"\s+value="(\w+)"', page)[1]
    assert (chosen(kits[1], confirmed=question)[0], serves()) == (422, None)  # of another kit nobody has seen it
    assert (chosen(kits[0], confirmed=question)[0], serves()) == (302, kits[0])
    assert (chosen(kits[0])[0], serves()) == (302, kits[0])
    question = re.search(r'name="confirmed"\s+value="(\w+)"', chosen(None)[1])[1]
    assert (chosen(None, confirmed=question)[0], serves()) == (302, None)


def test_the_store_serves_everybody_and_what_is_no_bin_has_no_walk(site, store):
    stocked(ItemFactory(site=site), 1, "Store")
    kit = KitFactory(site=site, run=RunFactory(site=site))
    assert store.post(set_up(site, "Store"), {"kit": kit.pk, "walk": "4"}).status_code == 302
    place = Place.objects.of(site).get(name="Store")
    assert (place.walk, hasattr(place, "kit_box")) == (4, False)
    quarantine = Place.objects.of(site).get(name="Quarantine")
    assert store.get(reverse("set_up_bin", args=["here", quarantine.pk])).status_code == 404
    assert store.post(set_up(site, "Store"), {"walk": "0"}).status_code == 422
    assert Place.objects.of(site).get(name="Store").walk == 4
