"""Two people at one reel. The test of the lock has a twin that shows what happens without it."""

from functools import partial

import pytest
from django.db import connection

from reels.ledger import services
from reels.ledger.checks import Recorded
from reels.ledger.marks.content import ConfirmFirstError
from reels.models import Cut
from tests.races.together import at_once, meeting
from tests.reels.makers import cut, make_record, make_reel, make_site

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def reel():
    return make_reel(make_site(), "R1", outer=0, inner=1000)


@pytest.fixture
def two_cuts(reel, monkeypatch):
    """Two cuts of the same cable, each of which has looked for others before either is written, where it can."""
    monkeypatch.setattr(services, "cautions", meeting(services.cautions))
    return [partial(cut, reel, 0, 100, event_id=name, confirmed=False) for name in ("first", "second")]


def test_of_two_cuts_of_the_same_cable_one_is_asked_about(reel, two_cuts):
    results = at_once(*two_cuts)
    assert sorted(type(result).__name__ for result in results) == ["ConfirmFirstError", "Recorded"]
    [asked] = [result for result in results if isinstance(result, ConfirmFirstError)]
    assert "two records overlap" in str(asked)
    assert Cut.objects.of(reel.site).count() == 1


@pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock")
def test_without_the_lock_both_are_recorded_and_nobody_is_asked(reel, two_cuts, monkeypatch):
    monkeypatch.setattr(services, "_lock", lambda site, keys: [reel])
    results = at_once(*two_cuts)
    assert [type(result) for result in results] == [Recorded, Recorded]
    assert not any(result.warnings for result in results)


def test_a_record_sent_twice_at_once_is_kept_once(reel):
    record = make_record(reel, 0, 100, event_id="C-1")
    results = at_once(*[partial(services.record_cut, site=reel.site, record=record)] * 2)
    assert sorted(result.new for result in results) == [False, True]
    assert Cut.objects.of(reel.site).count() == 1
