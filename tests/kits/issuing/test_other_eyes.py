"""A difference in a bin that is worth much asks for another pair of eyes before it is kept."""

import re

import pytest
from django.urls import reverse

from takeoff.models import Place, Record, Site
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import AskFirstError
from tests.factories.takeoff import ItemFactory, SiteFactory, member
from tests.kits.makers import at, event_id, lying, stocked

pytestmark = pytest.mark.django_db
ASKED = "LUG in Store differs by much. Let somebody else count it, too, before it is kept."


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here", count_blind_above=200, currency="USD")


@pytest.fixture
def lug(site):
    item = ItemFactory(site=site, code="LUG", unit_cost=1000)
    stocked(item, 100)
    return item


def count(item, counted, **more):
    row = {"id": event_id(), "item": item, "bin": "Store", "counted": str(counted), "at": at(6), **more}
    return keep_one(site=item.site, kind="counts", row=row)


@pytest.mark.parametrize("counted", [79, 121])
@pytest.mark.parametrize("more", [{}, {"by": "Ana", "checked_by": " ANA "}])
def test_much_more_or_less_is_asked_about_first(lug, counted, more):
    with pytest.raises(AskFirstError, match=ASKED):
        count(lug, counted, **more)
    assert lying(lug)["bin Store"] == 100


@pytest.mark.parametrize(("counted", "more"), [(80, {}), (120, {}), (10, {"by": "Ana", "checked_by": "Ben"})])
def test_a_small_difference_and_what_two_have_counted_is_kept(lug, counted, more):
    assert count(lug, counted, **more).said == []
    assert lying(lug)["bin Store"] == counted


def test_what_is_counted_for_the_first_time_or_has_no_price_is_kept(site, lug):
    free = ItemFactory(site=site, code="FREE")
    stocked(free, 100)
    count(free, 1)
    row = {"id": event_id(), "item": lug, "bin": "Shelf 4", "counted": "500", "at": at(6)}
    assert keep_one(site=site, kind="counts", row=row).said == []


def test_the_review_asks_who_else_counted_before_anything_is_kept(site, lug, client):
    client.force_login(member(site, "storekeeper"))
    url = reverse("count_place", args=["here", Place.objects.of(site).get(name="Store").pk])
    page = client.post(url, {"1-id": "a", "1-item": "LUG", "1-counted": "90"}).content.decode()
    assert "Somebody else who counted it" not in page
    page = client.post(url, {"1-id": "a", "1-item": "LUG", "1-counted": "10"}).content.decode()
    assert re.search(r'name="checked_by"[^>]*required', page)
    assert "$" not in page
    said = {"bin": "Store", "by": "Ana", "1-id": "a", "1-item": "LUG", "1-counted": "10"}
    asked = client.post(reverse("act", args=["here", "counts"]), said)
    assert ASKED in asked.content.decode()
    assert not Record.objects.of(site).filter(event_id="a").exists()
    client.post(reverse("act", args=["here", "counts"]), said | {"checked_by": "Ben"})
    assert lying(lug)["bin Store"] == 10
