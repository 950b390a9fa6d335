"""Which finished stages may have goods left."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kits.issuing.leftovers import leftovers
from takeoff.models import Stage
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, TakeoffFactory, TakeoffLineFactory, member
from tests.kits.makers import given_back, handed, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(slug="here")


def stage(site, item, name, need, out, days_ago):
    run = RunFactory(site=site, name=name)
    done = None if days_ago is None else timezone.now() - timedelta(days=days_ago)
    Stage.objects.create(run=run, stage="seals", done=done)
    TakeoffLineFactory(takeoff=TakeoffFactory(run=run, book=None), item=item, stage="seals", quantity=need)
    handed(item, out, run, "seals")
    return run


def test_asked_of_stages_that_had_more_than_they_need_until_something_came_back(site):
    item = ItemFactory(site=site, code="LUG")
    stocked(item, 99, "Store")
    more = stage(site, item, "CB-1", 10, 13, 2)
    stage(site, item, "CB-2", 10, 10, 2)
    stage(site, item, "CB-3", 10, 12, None)
    stage(site, item, "CB-4", 10, 12, 15)
    assert [(row.run.name, row.stage, row.items) for row in leftovers(site)] == [("CB-1", "seals", 1)]
    given_back(item, 1, more, "seals", at=timezone.now() - timedelta(days=3), event="before it was done")
    assert len(leftovers(site)) == 1
    given_back(item, 1, more, "seals", at=timezone.now())
    assert leftovers(site) == []


def test_the_store_sees_them_on_today_and_at_the_window(client, site):
    item = ItemFactory(site=site, code="LUG")
    stocked(item, 99, "Store")
    stage(site, item, "CB-1", 10, 13, 2)
    client.force_login(member(site, "storekeeper"))
    assert "1 finished stage with goods left over?" in client.get(reverse("today", args=["here"])).content.decode()
    page = client.get(reverse("hand_out", args=["here"])).content.decode()
    assert "1 item handed out beyond its need" in page
