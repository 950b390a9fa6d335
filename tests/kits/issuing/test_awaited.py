"""Which stage waits for what a crate holds."""

from datetime import timedelta

import pytest
from django.urls import reverse

from kits.issuing.awaited import awaited
from takeoff.models import Stage
from tests.factories.kits import KitFactory, PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, TakeoffFactory, TakeoffLineFactory, member
from tests.kits.makers import counted, handed, received, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(slug="here")


@pytest.fixture
def item(site):
    return ItemFactory(site=site, code="LUG")


def stage(site, name, item, quantity, days, *, done=None):
    run = RunFactory(site=site, name=name)
    planned = site.today() + timedelta(days=days)
    Stage.objects.create(run=run, stage="seals", planned=planned, done=done)
    TakeoffLineFactory(takeoff=TakeoffFactory(run=run, book=None), item=item, stage="seals", quantity=quantity)
    return run


def waits(site, item, runs=()):
    found = awaited(site, {item.pk: runs})[item.pk]
    return found and found.run


def test_the_first_stage_that_what_is_here_does_not_reach(site, item):
    first, second = stage(site, "CB-2", item, 6, 3), stage(site, "CB-1", item, 6, 9)
    stage(site, "CB-0", item, 6, 15)
    stage(site, "CB-3", item, 6, 1, done=site.start_of(site.today()))
    assert waits(site, item) == "CB-2"
    stocked(item, 6, "Store")
    assert waits(site, item) == "CB-1"
    handed(item, 4, first, "seals")
    assert waits(site, item) == "CB-1"
    stocked(item, 6, "Shelf")
    assert waits(site, item) is None  # the one of the day after the two weeks is no haste
    other = ItemFactory(site=site).pk
    assert awaited(site, {other: ()}) == {other: None}
    assert second.name == "CB-1"


def test_what_is_past_its_last_day_serves_nobody(site, item):
    stage(site, "CB-2", item, 2, 3)
    received(ShipmentFactory(site=site), counted(item, 2, lot="L", expires="2020-01-31"))
    assert waits(site, item) == "CB-2"


def test_what_comes_for_one_run_is_awaited_by_no_other(site, item):
    first, second = stage(site, "CB-2", item, 6, 3), stage(site, "CB-1", item, 6, 9)
    assert waits(site, item, {second.pk}) == "CB-1"
    kit = KitFactory(site=site, name="kit two", run=first)
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=6, kit=kit)
    received(shipment, counted(item, 6))
    assert waits(site, item, {first.pk}) is None
    assert waits(site, item, {second.pk}) == "CB-1"  # what lies in the box of another run is not for it


def test_the_line_of_a_crate_says_so_until_it_is_counted(client, site, item):
    stage(site, "CB-2", item, 2, 3)
    shipment = ShipmentFactory(site=site, name="S-1")
    package = PackageFactory(shipment=shipment)
    PackingLineFactory(shipment=shipment, package=package, item=item, quantity=2)
    client.force_login(member(site, "storekeeper"))
    url = reverse("receiving_package", args=["here", shipment.pk, package.pk])
    assert "CB-2 waits for it: seals" in client.get(url).content.decode()
    stocked(item, 2, "Store")
    assert "waits for it" not in client.get(url).content.decode()
