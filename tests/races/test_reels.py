"""Two people at one reel, or at two for one conductor. Each lock has a twin that shows what happens without it."""

from functools import partial

import pytest
from django.db import connection

from reels.ledger import arrived, records
from reels.ledger.marks.content import CutError
from reels.models import Cut, CutDecision, Reel, ReelEvent
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import AskFirstError
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import RunFactory
from tests.kits.makers import at
from tests.races.together import at_once, meeting
from tests.reels.makers import Recorded, cut, decide, make_conductors

pytestmark = pytest.mark.django_db(transaction=True)
ON_POSTGRESQL = pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock")


@pytest.fixture
def reel():
    return ReelFactory(site__whole_reels=True, tag="R1", outer_mark=0, inner_mark=1000)


@pytest.fixture
def two_cuts(reel, monkeypatch):
    """Two cuts of the same cable, each of which has looked for others before either is written, where it can."""
    monkeypatch.setattr(records, "cautions", meeting(records.cautions))
    return [partial(cut, reel, 0, 100, event_id=name, confirmed=False) for name in ("first", "second")]


def unlocked(site, keys):
    return list(Reel.objects.of(site).filter(pk__in=keys).select_related("cable", "place"))


def test_of_two_cuts_of_the_same_cable_one_is_asked_about(reel, two_cuts):
    results = at_once(*two_cuts)
    assert sorted(type(result).__name__ for result in results) == ["AskFirstError", "Recorded"]
    [asked] = [result for result in results if isinstance(result, AskFirstError)]
    assert "two records overlap" in str(asked)
    assert Cut.objects.of(reel.site).count() == 1


@ON_POSTGRESQL
def test_without_the_lock_both_are_recorded_and_nobody_is_asked(two_cuts, monkeypatch):
    monkeypatch.setattr(records, "lock_reels", unlocked)
    assert [type(result) for result in at_once(*two_cuts)] == [Recorded, Recorded]


def test_a_cut_sent_twice_at_once_is_kept_once(reel):
    results = at_once(*[partial(cut, reel, 0, 100, event_id="C-1")] * 2)
    assert results[0].cut == results[1].cut
    assert Cut.objects.of(reel.site).count() == 1


@pytest.fixture
def two_reels(reel, monkeypatch):
    """One conductor that is cut off two reels at the same moment."""
    conductor = make_conductors(RunFactory(site=reel.site, name="BUS-1", measured=True), 100, "A1")[0]
    other = ReelFactory(site=reel.site, tag="R2", outer_mark=0, inner_mark=1000)
    monkeypatch.setattr(records, "cautions", meeting(records.cautions))
    return [partial(cut, one, 0, 100, conductor=conductor, confirmed=False) for one in (reel, other)]


def test_one_conductor_cut_off_two_reels_at_once_is_asked_about(two_reels):
    results = at_once(*two_reels)
    assert sorted(type(result).__name__ for result in results) == ["AskFirstError", "Recorded"]
    assert any("BUS-1 A1 was cut before" in str(result) for result in results)


@ON_POSTGRESQL
def test_without_the_conductors_lock_it_is_cut_twice_without_a_word(two_reels, monkeypatch):
    monkeypatch.setattr(records, "lock", lambda rows: [])
    assert [type(result) for result in at_once(*two_reels)] == [Recorded, Recorded]


def test_of_two_who_withdraw_one_cut_one_is_told_so(reel):
    made = cut(reel, 0, 100).cut
    results = at_once(*[partial(decide, made, "withdrawn", event_id=name) for name in ("D-1", "D-2")])
    assert sorted(type(result).__name__ for result in results) == ["CutDecision", "CutError"]
    assert CutDecision.objects.of(reel.site).count() == 1


def test_a_tag_given_twice_at_once_is_refused_to_one(reel):
    other = ReelFactory(site=reel.site, tag="R2", outer_mark=0, inner_mark=1000)
    cuts = [cut(reel, 0, 100).cut, cut(other, 0, 100).cut]
    results = at_once(*[partial(decide, one, "withdrawn", event_id=f"D-{one}", piece_tag="P-1") for one in cuts])
    assert sorted(type(result).__name__ for result in results) == ["CutDecision", "CutError"]
    [refused] = [result for result in results if isinstance(result, CutError)]
    assert str(refused) == "Tag P-1 is in use already."


def test_of_two_who_bring_in_one_reel_the_second_finds_it_here(arriving):
    results = at_once(*arriving)
    assert sorted(type(result).__name__ for result in results) == ["CutError", "Record"]
    assert ReelEvent.objects.of(Reel.objects.get().site).count() == 1


@ON_POSTGRESQL
def test_without_the_lock_it_came_twice(arriving, monkeypatch):
    monkeypatch.setattr(records, "lock_reels", unlocked)
    monkeypatch.setattr(arrived, "lock_reels", unlocked)
    assert [type(result).__name__ for result in at_once(*arriving)] == ["Record", "Record"]


@pytest.fixture
def arriving(monkeypatch):
    """Two who bring in the same reel, each of which has looked at it before either is written, where it can."""
    reel = ReelFactory(tag="R1", state="on the way", outer_mark=0, inner_mark=1000)
    monkeypatch.setattr(arrived, "make_bins", meeting(arrived.make_bins))
    rows = [{"id": name, "reel": "R1", "at": at(2), "bin": "Yard"} for name in ("first", "second")]
    return [partial(keep_one, site=reel.site, kind="reel_events", row=row) for row in rows]
