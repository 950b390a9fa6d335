"""The page of offers: side by side, which to take, prices over time; for whoever sees prices."""

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.urls import reverse

from takeoff.models import Offer
from tests.factories.takeoff import SupplierFactory, member
from tests.kits.shortages.scene import Scene

pytestmark = pytest.mark.django_db
TODAY = datetime.now(tz=UTC).date()
BACK = timedelta(days=30)


@pytest.fixture
def scene() -> Scene:
    return Scene(slug="here", name="Here")


@pytest.fixture
def look(client, scene):
    client.force_login(member(scene.site, "purchaser", username="purchaser"))

    def text() -> str:
        answer = client.get(reverse("offers", args=["here"]))
        assert answer.status_code == 200
        return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", answer.content.decode())))

    return text


def offer(scene, item, supplier, price, *, back=BACK, **more):
    return Offer.objects.create(item=item, supplier=supplier, price=price, offered=TODAY - back, **more)


def test_without_offers_the_page_says_where_they_come_from(look):
    assert "No offers yet" in look()


def test_the_least_cost_in_time_stands_first_with_what_is_to_order(scene, look):
    lug, run = scene.item("LUG", description="Lug", lead_time_days=5), scene.run()
    scene.needs(run, lug, "covers", 12)
    scene.stage(run, "covers", planned=TODAY + timedelta(days=30))
    slow = SupplierFactory(site=scene.site, name="Slow", lead_time_days=90)
    quick = SupplierFactory(site=scene.site, name="Quick", lead_time_days=2)
    unknown = SupplierFactory(site=scene.site, name="Unknown")
    offer(scene, lug, slow, 100)
    offer(scene, lug, quick, 250, pack=5)
    offer(scene, lug, unknown, 50)
    text = look()
    assert "12 to order , here by" in text
    assert "Least cost in time: 15 of Quick, 37.50 USD" in text
    assert re.search(r"Slow .* 12 for 12\.00 USD here \d+ \w+, too late", text)
    assert "12 for 6.00 USD nobody knows when" in text

    Offer.objects.filter(supplier=quick).delete()
    assert "None comes in time. First to come: Slow" in look()
    Offer.objects.update(valid_until=TODAY - timedelta(days=1))
    assert "No offer holds today." in look()


def test_what_holds_what_is_over_what_is_replaced_and_what_is_to_come_are_told(scene, look):
    lug, supplier = scene.item("LUG"), scene.supplier
    offer(scene, lug, supplier, 100)
    offer(scene, lug, supplier, 120, back=timedelta(days=9), valid_until=TODAY)
    offer(scene, lug, supplier, 140, back=timedelta(days=-2))
    offer(scene, lug, supplier, 90, part="P2", valid_until=TODAY - timedelta(days=1))
    text = look()
    assert "Nothing to order." in text
    rows = [re.search(rf"{price}\.?\d* USD any number, packs of 1 \S+ days? (\w+)", text) for price in ("1.20", "0.90")]
    assert [found and found[1] for found in rows] == ["since", "over"]
    assert re.search(r"1\.00 USD any number, packs of 1 10 days of .*?, replaced", text)
    assert re.search(r"1\.40 USD any number, packs of 1 10 days from \d+ \w+ \d+ on", text)
    assert "Price of LUG over time" in text


def test_items_to_be_ordered_stand_first_and_another_sites_offers_nowhere(scene, look):
    other = Scene(slug="there")
    offer(other, other.item("FAR", description="Far away"), other.supplier, 1)
    calm, wanted = scene.item("A", description="Calm"), scene.item("B", description="Wanted")
    run = scene.run()
    scene.needs(run, wanted, "covers", 3)
    scene.stage(run, "covers", planned=TODAY)
    for item in (calm, wanted):
        offer(scene, item, scene.supplier, 1)
    text = look()
    assert "Offers for 2 items" in text
    assert text.index("Wanted") < text.index("Calm")
    assert "Far away" not in text


@pytest.mark.parametrize("role", ["storekeeper", "foreman", "viewer"])
def test_who_sees_no_prices_sees_no_offers(client, scene, role):
    client.force_login(member(scene.site, role, username=role))
    assert client.get(reverse("offers", args=["here"])).status_code == 403
    assert "Offers" not in client.get(reverse("close_out", args=["here"])).content.decode()
