"""Stock that goes from one site to another: a record at each, and both books or neither."""

import pytest

from kits.audit.proofs import prove_database, prove_site
from kits.models import Lot
from kits.stock.books.errors import LedgerError, NotThereError
from takeoff.models import Place
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.records.terms.errors import OtherContentError
from tests.factories.takeoff import ItemFactory, SiteFactory, UserFactory
from tests.kits.makers import at, day, kept, lying, report, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def here():
    return ItemFactory(site=SiteFactory(slug="here"), code="LUG")


@pytest.fixture
def there():
    return ItemFactory(site=SiteFactory(slug="there"), code="LUG")


def sent(here, there, quantity=3, event="s"):
    return report(here.site, "sends", event=event, item=here, quantity=quantity, to=there.site.slug, bin="Store")


def taken_in(there, event="t", sent="s", number=3):
    row = {"from": "here", "sent": sent, "bin": "Shelf 1"}
    return report(there.site, "takings_in", event=event, number=number, **row)


def taken_back(item, what, event="r", number=4):
    return report(item.site, "reversals", event=event, reverses=what, reason="wrong truck", number=number)


def proven(*items):
    proofs = [*prove_database(), *(proof for item in items for proof in prove_site(item.site))]
    return [proof.claim for proof in proofs if not proof.holds]


def test_what_is_sent_is_in_transit_until_it_is_taken_in(here, there):
    stocked(here, 5, lot="L", expires=day(9))
    sent(here, there)
    assert (lying(here)["bin Store [L]"], kept(here, Place.Kind.TRANSIT)) == (2, 3)
    assert lying(there) == {}

    taken_in(there)
    assert (kept(here, Place.Kind.TRANSIT), kept(here, Place.Kind.OTHER_SITE)) == (0, 3)
    assert lying(there) == {"other_site here [L]": -3, "bin Shelf 1 [L]": 3}
    assert Lot.objects.of(there.site).get().expires == day(9)
    assert proven(here, there) == []


def test_it_is_taken_in_once(here, there):
    stocked(here, 5)
    sent(here, there)
    assert taken_in(there) == taken_in(there)
    with pytest.raises(OtherContentError):
        taken_in(there, number=2)
    with pytest.raises(LedgerError, match="s was taken in before"):
        taken_in(there, event="u")
    assert kept(there, Place.Kind.BIN) == 3


def test_of_two_that_take_it_in_in_one_batch_one_does(here, there):
    stocked(here, 5)
    sent(here, there)
    rows = [{"id": id_, "from": "here", "sent": "s", "at": "2026-03-03 12:00"} for id_ in "tu"]
    answers = take(
        site=there.site,
        sender=UserFactory(),
        roles=frozenset({"storekeeper"}),
        sent=[Sent("takings_in", row) for row in rows],
    )
    assert [answer.answer for answer in answers] == ["kept", "aside"]
    assert (kept(there, Place.Kind.BIN), proven(here, there)) == (3, [])


def test_no_more_is_sent_than_is_there(here, there):
    stocked(here, 2)
    with pytest.raises(NotThereError, match=r"LUG: 3 each asked, 2 there \(2 in Store\)"):
        sent(here, there)


def test_what_never_left_is_not_taken_in(here, there):
    stocked(here, 5)
    sent(here, there)
    taken_back(here, "s", number=2)
    with pytest.raises(LedgerError, match="s was taken back: it never left here"):
        taken_in(there)


def test_what_was_taken_in_is_taken_back_in_both_books_and_can_be_taken_in_again(here, there):
    stocked(here, 5)
    sent(here, there)
    taken_in(there)
    taken_back(there, "t")
    assert (kept(here, Place.Kind.TRANSIT), kept(here, Place.Kind.OTHER_SITE)) == (3, 0)
    assert (lying(there), proven(here, there)) == ({}, [])

    taken_in(there, event="u", number=5)
    assert (kept(here, Place.Kind.TRANSIT), kept(there, Place.Kind.BIN), proven(here, there)) == (0, 3, [])


def test_what_was_taken_in_and_used_is_taken_back_in_neither(here, there):
    stocked(here, 5)
    sent(here, there)
    taken_in(there)
    report(there.site, "scraps", item=there, quantity="1", bin="Shelf 1", reason="bent", number=3)
    with pytest.raises(NotThereError, match=r"LUG: 3 each asked, 2 there \(2 in Shelf 1\)"):
        taken_back(there, "t")
    assert (kept(here, Place.Kind.TRANSIT), kept(here, Place.Kind.OTHER_SITE), proven(here, there)) == (0, 3, [])


def test_a_send_that_was_taken_in_is_not_taken_back_though_another_is_on_the_way(here, there):
    stocked(here, 6)
    sent(here, there)
    taken_in(there)
    sent(here, there, event="later")
    with pytest.raises(LedgerError, match="s was taken in there: it must be taken back there first"):
        taken_back(here, "s")
    taken_back(there, "t")
    taken_back(here, "s", event="r2", number=5)
    assert (kept(here, Place.Kind.BIN), kept(here, Place.Kind.TRANSIT), proven(here, there)) == (3, 3, [])


def test_the_other_site_must_know_the_item_in_the_same_unit(here):
    stocked(here, 5)
    there = ItemFactory(site=SiteFactory(slug="there"), code="LUG", unit="box")
    with pytest.raises(LedgerError, match="there has no item LUG counted in each"):
        sent(here, there)


def test_only_the_site_that_it_was_sent_to_takes_it_in(here, there):
    stocked(here, 5)
    sent(here, there)
    elsewhere = ItemFactory(site=SiteFactory(slug="elsewhere"), code="LUG")
    with pytest.raises(LedgerError, match="here sent nothing to elsewhere under the id s"):
        taken_in(elsewhere)


def test_a_site_that_nobody_knows_is_told(here):
    with pytest.raises(LedgerError, match="There is no other site nowhere"):
        keep_one(
            site=here.site,
            kind="sends",
            row={"id": "s", "item": here, "quantity": 1, "to": "nowhere", "bin": "Store", "at": at()},
        )
