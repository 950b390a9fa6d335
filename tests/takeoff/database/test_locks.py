"""Locks are taken by one helper and in one order; every test is watched for it (`tests/lock_order.py`)."""

import pytest
from django.db import transaction

from takeoff.database import locks
from takeoff.database.locks import lock
from takeoff.models import Item
from tests.factories.takeoff import CableFactory, ItemFactory, SiteFactory
from tests.lock_order import OutOfOrderError
from tests.source import modules

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(slug="here")


@pytest.fixture
def items(site):
    return [ItemFactory(site=site, code=code) for code in "AB"]


@transaction.atomic
def lock_in_turn(*rows):
    for row in rows:
        lock(type(row).objects.filter(pk=row.pk))


def test_every_lock_is_taken_by_the_one_helper():
    assert [name for name, path in modules() if "select_for_update" in path.read_text()] == [locks.__name__]


def test_rows_come_by_key_whatever_was_asked(site, items):
    with transaction.atomic():
        assert lock(Item.objects.of(site).order_by("-code")) == items


def test_in_the_houses_order_and_by_key_all_is_well(site, items):
    cable = CableFactory(site=site)
    lock_in_turn(site, *items, cable, items[0], site)  # what is held already can be asked for again


@pytest.mark.parametrize("order", ["an item before its site", "items against their keys"])
def test_out_of_order_fails_the_test_that_meets_it(site, items, order):
    first, second = (items[0], site) if order == "an item before its site" else items[::-1]
    with pytest.raises(OutOfOrderError):
        lock_in_turn(first, second)


def test_the_next_transaction_holds_nothing_yet(items):
    for item in reversed(items):
        lock_in_turn(item)
