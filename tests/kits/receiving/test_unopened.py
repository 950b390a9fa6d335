"""Packages that nobody opened, and the last day to tell of what may be broken in them."""

from datetime import date, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kits.receiving.unopened import unopened
from takeoff.records.services import keep_one
from tests.factories.kits import PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, SupplierFactory, member

pytestmark = pytest.mark.django_db
MONDAY = datetime(2026, 11, 30, 15, tzinfo=timezone.get_fixed_timezone(0))


@pytest.fixture(autouse=True)
def _tuesday(monkeypatch):
    monkeypatch.setattr("takeoff.sites.models.timezone.now", lambda: MONDAY + timedelta(days=1))


@pytest.fixture
def site():
    return SiteFactory(slug="here", timezone="UTC", holidays=["2026-12-03"])


@pytest.fixture
def shipment(site):
    supplier = SupplierFactory(site=site, name="Bus works")
    shipment = ShipmentFactory(site=site, name="S-1", supplier=supplier)
    for name in ("Crate 1", "Crate 2", "Crate 3"):
        package = PackageFactory(shipment=shipment, name=name)
        for code in ("LUG", "CAP"):
            item = ItemFactory(site=site, code=f"{code} {name}")
            PackingLineFactory(shipment=shipment, package=package, item=item, quantity=10)
    return shipment


def keep(site, kind, id_, at=MONDAY, **row):
    keep_one(site=site, kind=kind, row={"id": id_, "at": at, **row})


def told(site):
    return [(one.package.name, one.last.whom, one.last.by) for one in unopened(site)]


def test_five_business_days_from_the_gate_without_the_holiday(site, shipment):
    assert told(site) == []
    keep(site, "arrivals", "T1", shipment="S-1", count="2", missing="Crate 3")
    # Tuesday, Wednesday, Friday, Monday, Tuesday: the Thursday is a holiday.
    eighth = ("carrier", date(2026, 12, 8))
    assert told(site) == [("Crate 1", *eighth), ("Crate 2", *eighth)]


def test_who_looked_into_one_line_opened_the_crate(site, shipment):
    keep(site, "arrivals", "T1", shipment="S-1", count="3")
    said = {"shipment": "S-1", "counted": "10"}
    keep(site, "receipts", "r1", package="Crate 1", item="LUG Crate 1", condition="not opened", **said)
    keep(site, "receipts", "r2", package="Crate 2", item="LUG Crate 2", **said)
    assert [name for name, *_ in told(site)] == ["Crate 1", "Crate 3"]


def test_a_supplier_who_gives_fewer_days_comes_first_until_they_are_over(site, shipment, monkeypatch):
    shipment.supplier.notice_days = 3
    shipment.supplier.save()
    keep(site, "receipts", "r1", package="Crate 1", item="LUG Crate 1", shipment="S-1", counted="10")
    assert told(site)[0] == ("Crate 2", "supplier", date(2026, 12, 3))
    monkeypatch.setattr("takeoff.sites.models.timezone.now", lambda: MONDAY + timedelta(days=4))
    assert told(site)[0] == ("Crate 2", "carrier", date(2026, 12, 8))
    monkeypatch.setattr("takeoff.sites.models.timezone.now", lambda: MONDAY + timedelta(days=9))
    assert told(site)[0] == ("Crate 2", "carrier", date(2026, 12, 8))
    monkeypatch.setattr("takeoff.sites.models.timezone.now", lambda: MONDAY + timedelta(days=31))
    assert told(site) == []


def test_today_of_the_store_says_it_first(client, site, shipment):
    keep(site, "arrivals", "T1", shipment="S-1", count="2", missing="Crate 3")
    client.force_login(member(site, "storekeeper"))
    page = client.get(reverse("today", args=[site.slug])).content.decode()
    assert "Crate 2, unopened" in page
    assert "Tuesday 8 December is the last day to tell the carrier of hidden damage." in page
    assert "ask for an inspection" in page
