"""Posting: once, whole or not at all, never below zero, and undone only by a reversal."""

import contextlib
from collections.abc import Callable
from decimal import Decimal
from functools import partial

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from kits.audit.proofs import rebuilt_balances, uneven_items
from kits.models import Balance, Move, Posting
from kits.stock.books.errors import AlreadyReversedError, LedgerError, NotThereError
from kits.stock.places import Places
from takeoff.models import Place
from takeoff.records.terms.errors import RecordError
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.makers import (
    at,
    event_id,
    given_back,
    handed,
    kept,
    lying,
    move_of,
    moves_of,
    post,
    report,
    reverse,
    stocked,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory()


@pytest.fixture
def item(site):
    return ItemFactory(site=site, code="LUG")


def moved(item, quantity, source, target, event="", **fields):
    step = move_of(item, quantity, source, target, fields.pop("lot", ""))
    return post(
        site=item.site, event_id=event or event_id(), kind=Posting.Kind.TRANSFER, at=at(), moves=[step], **fields
    )


def test_a_posting_moves_and_keeps_both_balances(site, item):
    places = Places(site)
    posting = moved(item, "2.5", places.lost_found(), places.bin("Store"), by="Sam", reason="found")
    assert moves_of(posting) == [("Lost and found", "Store", Decimal("2.5"), "")]
    assert lying(item) == {"lost_found Lost and found": Decimal("-2.5"), "bin Store": Decimal("2.5")}
    assert (posting.by, posting.reason) == ("Sam", "found")


def test_the_database_takes_an_id_once_and_nothing_of_the_second(site, item):
    places = Places(site)
    moved(item, 2, places.lost_found(), places.bin("Store"), event="x")
    with pytest.raises(IntegrityError), transaction.atomic():
        moved(item, 3, places.lost_found(), places.bin("Store"), event="x")
    assert lying(item)["bin Store"] == 2


def test_two_sites_may_use_the_same_id(site, item):
    other = ItemFactory(code="LUG")
    for one in (item, other):
        places = Places(one.site)
        moved(one, 2, places.lost_found(), places.bin("Store"), event="x")
    assert (kept(item, Place.Kind.BIN), kept(other, Place.Kind.BIN)) == (2, 2)


def test_a_real_place_never_falls_below_zero_and_the_error_says_what_is_there(site, item):
    places = Places(site)
    stocked(item, 4)
    with pytest.raises(NotThereError) as caught:
        moved(item, 5, places.bin("Store"), places.scrap())
    assert str(caught.value) == "LUG: 5 each asked, 4 there (4 in Store)."
    assert (caught.value.column, caught.value.found) == ("quantity", "5 each")
    assert lying(item)["bin Store"] == 4
    assert kept(item, Place.Kind.SCRAP) == 0


def test_a_posting_happens_whole_or_not_at_all(site, item):
    places = Places(site)
    steps = [move_of(item, 3, places.lost_found(), places.bin("A")), move_of(item, 4, places.bin("A"), places.scrap())]
    with pytest.raises(NotThereError):
        post(site=site, event_id="x", kind=Posting.Kind.TRANSFER, at=at(), moves=steps)
    assert (Posting.objects.of(site).count(), Balance.objects.of(site).count()) == (0, 0)


@pytest.mark.parametrize("quantity", [0, -1, "0.00001"])
def test_a_quantity_is_above_zero_with_four_decimals_at_most(site, item, quantity):
    places = Places(site)
    with pytest.raises(LedgerError) as caught:
        moved(item, quantity, places.lost_found(), places.bin("Store"))
    assert caught.value.expected == "a number above zero"


def test_another_sites_item_or_place_is_refused(site, item):
    elsewhere = Places(SiteFactory())
    with pytest.raises(ValueError, match="another site"):
        post(
            site=site,
            event_id="x",
            kind=Posting.Kind.TRANSFER,
            at=at(),
            moves=[move_of(item, 1, Places(site).lost_found(), elsewhere.bin("Store"))],
        )


def test_posting_takes_a_fixed_number_of_queries(site, item, django_assert_max_num_queries):
    places = Places(site)
    source, target = places.lost_found(), places.bin("Store")
    # Lock (PostgreSQL), id, balances, counts, three writes, and two that open and close the transaction.
    with django_assert_max_num_queries(9):
        moved(item, 1, source, target)


def test_a_reversal_moves_everything_back(site, item):
    run = RunFactory(site=site)
    stocked(item, 5, lot="L")
    before = lying(item)
    posting = handed(item, 3, run)
    reversal = reverse(site=site, event_id="r", posting=posting, at=at(4), reason="wrong run")
    assert lying(item) == before
    assert (reversal.kind, reversal.reverses) == (Posting.Kind.REVERSAL, posting)


def test_a_posting_is_reversed_once(site, item):
    posting = stocked(item, 5)
    first = reverse(site=site, event_id="r", posting=posting, at=at(4), reason="typed wrong")
    with pytest.raises(AlreadyReversedError, match=f"{posting} was taken back before, by r."):
        reverse(site=site, event_id="s", posting=posting, at=at(4), reason="typed wrong")
    with pytest.raises(AlreadyReversedError, match="takes something back itself"):
        reverse(site=site, event_id="t", posting=first, at=at(4), reason="no")


def test_what_has_been_taken_further_cannot_be_reversed(site, item):
    posting = stocked(item, 5)
    handed(item, 3, RunFactory(site=site))
    with pytest.raises(NotThereError, match=r"5 each asked, 2 there \(2 in Store\)"):
        reverse(site=site, event_id="r", posting=posting, at=at(4), reason="typed wrong")


class AnyHistory(TestCase):
    """Whatever happens through the services, the books stay whole."""

    acts = st.lists(
        st.tuples(
            st.sampled_from(["count", "hand out", "give back", "spoil", "damage", "reverse", "again"]),
            st.sampled_from(["A", "B"]),  # bin
            st.sampled_from(["", "L"]),
            st.integers(1, 6),
        ),
        max_size=12,
    )

    @settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
    @given(acts)
    def test_nothing_is_lost_nothing_negative_and_balances_are_their_moves(self, acts):
        site = SiteFactory()
        item, run = ItemFactory(site=site), RunFactory(site=site)
        happened: list[tuple[Callable[[], Posting], Posting]] = []
        for what, place, lot, quantity in acts:
            if what == "again":
                if happened:
                    before = (lying(item), Posting.objects.of(site).count(), Move.objects.of(site).count())
                    act, posting = happened[quantity % len(happened)]
                    assert act() == posting
                    assert (lying(item), Posting.objects.of(site).count(), Move.objects.of(site).count()) == before
                continue
            act = self.act(what, item, run, place, lot, quantity, happened)
            with contextlib.suppress(RecordError):
                happened.append((act, act()))
        assert not uneven_items(site)
        assert not rebuilt_balances(site)
        assert all(row.quantity >= 0 for row in Balance.objects.of(site).exclude(may_be_negative=True))

    def act(self, what, item, run, place, lot, quantity, happened) -> Callable[[], Posting]:
        event = event_id()
        if what == "count":
            return partial(stocked, item, quantity, place, lot=lot, event=event)
        if what == "hand out":
            return partial(handed, item, quantity, run, bin=place, lot=lot, event=event)
        if what == "reverse":
            posting = happened[-1][1] if happened else stocked(item, quantity, place)
            row = {"event": event, "number": 5, "reverses": posting.event_id, "reason": "r"}
            return partial(report, item.site, "reversals", **row)
        condition = {"give back": "good", "spoil": "spoiled", "damage": "damaged"}[what]
        return partial(given_back, item, quantity, run, bin=place, lot=lot, condition=condition, event=event)
