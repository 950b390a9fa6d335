"""Two people at one claim."""

from functools import partial

import pytest
from django.db import connection

from kits.claims.records import ClaimBook
from kits.gate.records import GateKeeper
from kits.models import ClaimStep
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import RecordError
from tests.factories.kits import PackingLineFactory, ShipmentFactory
from tests.kits.makers import at, counted, received
from tests.races.together import at_once, meeting

pytestmark = pytest.mark.django_db(transaction=True)
ON_POSTGRESQL = pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock")


@pytest.fixture
def two_ends(monkeypatch):
    """Two people who end one claim, each of whom has read its steps before the other writes, where they can."""
    shipment = ShipmentFactory(name="S-1")
    line = PackingLineFactory(shipment=shipment, quantity=10)
    received(shipment, counted(line.item, 7))

    def step(id_, said):
        row = {"id": id_, "shipment": "S-1", "step": said, "at": at(4)}
        return keep_one(site=shipment.site, kind="claim_steps", row=row)

    step("filed", "filed")
    monkeypatch.setattr(ClaimBook, "__init__", meeting(ClaimBook.__init__))
    return [partial(step, "a", "settled by credit"), partial(step, "b", "dropped")]


def ends() -> int:
    return ClaimStep.objects.exclude(step="filed").count()


def test_of_two_who_end_a_claim_one_is_told_that_it_is_over(two_ends):
    refused = [result for result in at_once(*two_ends) if isinstance(result, RecordError)]
    assert len(refused) == ends() == 1
    assert "is over" in str(refused[0])


@ON_POSTGRESQL
def test_without_the_lock_it_ends_twice(two_ends, monkeypatch):
    monkeypatch.setattr(GateKeeper, "lock", lambda *_: None)
    at_once(*two_ends)
    assert ends() == 2
