"""What is on the way between sites, on a page, and taken in there."""

import re

import pytest
from django.urls import reverse

from kits.transfers.queries import on_the_way_from, on_the_way_to
from tests.factories.takeoff import ItemFactory, SiteFactory, member
from tests.kits.makers import lying, stocked
from tests.kits.transfers.test_records import sent, taken_back

pytestmark = pytest.mark.django_db


@pytest.fixture
def here():
    return ItemFactory(site=SiteFactory(slug="here"), code="LUG")


@pytest.fixture
def there():
    return ItemFactory(site=SiteFactory(slug="there"), code="LUG")


def test_what_is_on_the_way_is_listed_at_both_ends_and_taken_in_once(client, here, there):
    stocked(here, 5)
    sent(here, there)
    (leaving,) = on_the_way_from(here.site)
    assert (leaving.place.name, leaving.quantity) == ("there", 3)
    (coming,) = on_the_way_to(there.site)
    assert (coming.sender, [move.quantity for move in coming.moves]) == (here.site, [3])
    assert on_the_way_to(here.site) == []
    client.force_login(member(there.site, "storekeeper"))
    url = reverse("stock_transit", args=["there"])
    page = client.get(url).content.decode()
    fields = dict(re.findall(r'name="(id|from|sent)"\s+value="([^"]*)"', page))
    assert client.post(reverse("act", args=["there", "takings_in"]), fields).status_code == 302
    assert lying(there)["bin Store"] == 3
    assert on_the_way_to(there.site) == []
    assert on_the_way_from(here.site) == []
    taken_back(there, fields["id"])
    assert len(on_the_way_to(there.site)) == 1, "taken back, it is on the way again"


def test_what_was_taken_back_is_not_on_the_way(here, there):
    stocked(here, 5)
    sent(here, there)
    taken_back(here, "s")
    assert on_the_way_to(there.site) == []
