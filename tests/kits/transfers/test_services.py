"""Stock that goes from one site to another."""

from decimal import Decimal

import pytest

from kits.audit.proofs import prove_site
from kits.models import Lot
from kits.stock.books.errors import ContentDiffersError, LedgerError, NotThereError
from kits.transfers.services import send_to_site, take_in_from_site
from takeoff.models import Place
from tests.factories.takeoff import ItemFactory, SiteFactory
from tests.kits.makers import at, day, kept, lying, reverse, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def here():
    return ItemFactory(site=SiteFactory(slug="here"), code="LUG")


@pytest.fixture
def there():
    return ItemFactory(site=SiteFactory(slug="there"), code="LUG")


def sent(here, there, quantity=3, event="s"):
    return send_to_site(
        site=here.site,
        to=there.site,
        event_id=event,
        item=here,
        quantity=Decimal(quantity),
        source="Store",
        at=at(2),
    )


def taken_in(posting, there, event="t"):
    return take_in_from_site(sent=posting, to=there.site, event_id=event, at=at(3), bin="Shelf 1")


def test_what_is_sent_is_in_transit_until_it_is_taken_in(here, there):
    stocked(here, 5, lot="L", expires=day(9))
    posting = sent(here, there)
    assert (lying(here)["bin Store [L]"], kept(here, Place.Kind.TRANSIT)) == (2, 3)
    assert lying(there) == {}

    taken_in(posting, there)
    assert (kept(here, Place.Kind.TRANSIT), kept(here, Place.Kind.OTHER_SITE)) == (0, 3)
    assert lying(there) == {"other_site here [L]": -3, "bin Shelf 1 [L]": 3}
    assert Lot.objects.of(there.site).get().expires == day(9)
    assert all(proof.holds for item in (here, there) for proof in prove_site(item.site))


def test_it_is_taken_in_once(here, there):
    stocked(here, 5)
    posting = sent(here, there)
    assert taken_in(posting, there) == taken_in(posting, there)
    with pytest.raises(ContentDiffersError):
        taken_in(posting, there, event="u")
    assert kept(there, Place.Kind.BIN) == 3


def test_no_more_is_sent_than_is_there(here, there):
    stocked(here, 2)
    with pytest.raises(NotThereError, match=r"LUG: 3 each asked, 2 there \(2 in Store\)"):
        sent(here, there)


def test_what_never_left_is_not_taken_in(here, there):
    stocked(here, 5)
    posting = sent(here, there)
    reverse(site=here.site, event_id="r", posting=posting, at=at(2, 13), reason="truck full")
    with pytest.raises(LedgerError, match="s was reversed: it never left here"):
        taken_in(posting, there)


def test_what_was_taken_in_cannot_come_back_by_a_reversal(here, there):
    stocked(here, 5)
    posting = sent(here, there)
    taken_in(posting, there)
    with pytest.raises(NotThereError, match=r"LUG: 3 each asked, 0 there"):
        reverse(site=here.site, event_id="r", posting=posting, at=at(4), reason="changed our mind")


def test_the_other_site_must_know_the_item_in_the_same_unit(here):
    stocked(here, 5)
    there = ItemFactory(site=SiteFactory(slug="there"), code="LUG", unit="box")
    with pytest.raises(LedgerError, match="there has no item LUG counted in each"):
        sent(here, there)


def test_only_the_site_that_it_was_sent_to_takes_it_in(here, there):
    stocked(here, 5)
    posting = sent(here, there)
    elsewhere = ItemFactory(site=SiteFactory(slug="elsewhere"), code="LUG")
    with pytest.raises(LedgerError, match="s sent nothing to elsewhere"):
        taken_in(posting, elsewhere)
