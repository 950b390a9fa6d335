"""Two people at one bin. Each test of a lock has a twin that shows what happens without it."""

from functools import partial

import pytest
from django.db import OperationalError, connection

from kits.models import Posting
from kits.stock import services
from kits.stock.audit import rebuilt_balances
from kits.stock.books.errors import NotThereError
from kits.stock.places import Places
from kits.stock.services import post, step_of
from tests.factories.takeoff import ItemFactory, RunFactory
from tests.kits.makers import at, handed, lying, stocked
from tests.races.together import at_once, meeting, without_lock_at_start

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def item():
    item = ItemFactory(code="LUG")
    stocked(item, 10)
    return item


@pytest.fixture
def run(item):
    run = RunFactory(site=item.site, name="NORTH")
    places = Places(item.site)
    for stage in ("seals", "cables"):
        places.handed_out(run, stage)
    return run


@pytest.fixture
def two_hand_outs(item, run, monkeypatch):
    """Two hand-outs of 6 out of 10, each of which has read the books before the other writes, where it can."""
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    return [partial(handed, item, 6, run, stage) for stage in ("seals", "cables")]


def test_of_two_hand_outs_that_together_are_too_much_one_is_refused(item, two_hand_outs):
    results = at_once(*two_hand_outs)
    refused = [result for result in results if isinstance(result, NotThereError)]
    assert [str(error) for error in refused] == ["LUG: 6 each asked, 4 there (4 in Store)."]
    assert lying(item)["bin Store"] == 4
    assert rebuilt_balances(item.site) == []


@pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock, see below")
def test_without_the_lock_both_are_handed_out_and_the_books_are_wrong(item, two_hand_outs, monkeypatch):
    monkeypatch.setattr(services, "lock_items", lambda site, items: None)
    results = at_once(*two_hand_outs)
    assert [type(result) for result in results] == [Posting, Posting]
    assert rebuilt_balances(item.site) != []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has row locks, see above")
def test_without_the_lock_at_the_start_one_of_them_stops_on_an_error(item, two_hand_outs):
    results = at_once(*map(without_lock_at_start, two_hand_outs))
    stopped = [result for result in results if isinstance(result, OperationalError)]
    assert [str(error) for error in stopped] == ["database is locked"]


def test_the_same_act_sent_twice_at_once_is_posted_once(item, run, monkeypatch):
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    act = partial(handed, item, 6, run, event="x")
    first, second = at_once(act, act)
    assert first == second
    assert Posting.objects.of(item.site).filter(event_id="x").count() == 1
    assert lying(item)["bin Store"] == 4


@pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite nobody comes in between")
def test_without_the_lock_the_id_alone_still_keeps_the_second_out(item, run, monkeypatch):
    monkeypatch.setattr(services, "lock_items", lambda site, items: None)
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    act = partial(handed, item, 6, run, event="x")
    results = at_once(act, act)
    assert sorted(type(result).__name__ for result in results) == ["LedgerError", "Posting"]
    assert Posting.objects.of(item.site).filter(event_id="x").count() == 1
    assert lying(item)["bin Store"] == 4


def both(items, target, event):
    places = Places(items[0].site)
    steps = [step_of(item, 1, places.bin("Store"), places.bin(target)) for item in items]
    return post(site=items[0].site, event_id=event, kind=Posting.Kind.TRANSFER, at=at(), moves=steps)


def test_two_who_take_the_same_items_in_opposite_order_both_go_through(item, monkeypatch):
    """Rows are locked in key order, whatever order the moves are in."""
    other = ItemFactory(site=item.site)
    stocked(other, 10)
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    results = at_once(partial(both, [item, other], "A", "x"), partial(both, [other, item], "B", "y"))
    assert [type(result) for result in results] == [Posting, Posting]
    assert (lying(item)["bin Store"], lying(other)["bin Store"]) == (8, 8)
    assert rebuilt_balances(item.site) == []


def test_two_who_need_the_same_new_bin_share_one(item):
    other = ItemFactory(site=item.site)
    results = at_once(partial(stocked, item, 3, "New bin"), partial(stocked, other, 4, "New bin"))
    assert [type(result) for result in results] == [Posting, Posting]
    assert (lying(item)["bin New bin"], lying(other)["bin New bin"]) == (3, 4)
