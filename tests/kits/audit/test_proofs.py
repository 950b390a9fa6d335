"""`manage.py audit`: what holds, and that it sees what does not."""

from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from kits.audit.proofs import crossings, prove_database, prove_site, uneven_items
from kits.models import Balance, Kit, Lot, Move, Posting
from takeoff.database.append_only import lift_guards
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.queries import altered_books
from takeoff.rules.services import publish
from tests.factories.kits import KitFactory, MoveFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.makers import counted, day, given_back, handed, received, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    site = SiteFactory(slug="north")
    item, run = ItemFactory(site=site, code="LUG"), RunFactory(site=site)
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=10, kit=KitFactory(site=site, run=run))
    received(shipment, counted(item, 9), counted(item, 1, condition="damaged"), number=1)
    stocked(item, 5, "Shelf 1")
    handed(item, 6, run)
    given_back(item, 1, run, condition="spoiled")
    return site


def audited(*arguments) -> str:
    out = StringIO()
    call_command("audit", *arguments, stdout=out)
    return out.getvalue()


def test_whole_books_are_proved(site):
    assert audited() == (
        "Database\n"
        "  holds  Every table is there\n"
        "  holds  The guards on recorded rows are in place\n"
        "  holds  No row belongs to two sites\n"
        "Site north\n"
        "  holds  The places of every item and lot add up to zero\n"
        "  holds  Balances are what the moves say\n"
        "  holds  No real place holds less than nothing\n"
        "  holds  What was counted of deliveries is what suppliers lack\n"
        "  holds  Lots can be used to the day that was said last\n"
        "  holds  Photos are the files that were kept, and none that was taken away\n"
        "  holds  Published rule books are as they were published\n"
        "  holds  What was kept is as it was linked: 2 links, 10 rows waited for theirs\n"
        "  holds  Records say what they said when they were kept\n"
        "  holds  Every act has one record that told of it\n"
        "  holds  Every posting did something, and every claim has a step\n"
        "  holds  Every gap is the sum of its causes\n"
        "All 15 proofs hold.\n"
    )


def test_a_lot_with_another_day_than_the_last_that_was_said_is_seen(site):
    stocked(ItemFactory(site=site, code="SEAL"), 5, lot="L", expires=day(9))
    Lot.objects.of(site).update(expires=day(19))
    faults = [fault for proof in prove_site(site) for fault in proof.faults]
    assert faults == ["SEAL lot L: kept 2026-03-19, said 2026-03-09"]


def test_an_unknown_site_is_refused(site):
    with pytest.raises(CommandError, match=r"There is no site 'south'; sites: north\."):
        audited("--site", "south")


def test_a_balance_that_was_tampered_with_is_found(site):
    Balance.objects.of(site).filter(place__name="Shelf 1").update(quantity=7)
    faults = [proof.faults for proof in prove_site(site)]
    assert faults == [("LUG: 2",), ("Shelf 1, LUG: kept 7, moves say 5",), (), (), (), (), ()]
    out = StringIO()
    with pytest.raises(CommandError, match=r"\d of 15 proofs failed\."):
        call_command("audit", "--site", "north", stdout=out)
    assert "  FAILS  Balances are what the moves say\n         Shelf 1, LUG: kept 7, moves say 5\n" in out.getvalue()


def test_a_balance_that_was_deleted_is_found(site):
    Balance.objects.of(site).filter(place__name="Shelf 1").delete()
    assert prove_site(site)[1].faults == ("Shelf 1, LUG: kept 0, moves say 5",)


def test_a_move_that_kept_no_balance_is_found(site):
    posting = Posting.objects.of(site).first()
    move = Move.objects.of(site).first()
    MoveFactory(posting=posting, item=move.item, source=move.source, target=move.target, quantity=Decimal(1))
    assert len(prove_site(site)[1].faults) == 2


def test_less_than_nothing_in_a_real_place_is_found_even_when_the_row_says_it_may(site):
    Balance.objects.of(site).filter(place__name="Shelf 1").update(may_be_negative=True, quantity=-1)
    assert prove_site(site)[2].faults == ("Shelf 1: -1 LUG",)


def test_a_rule_slipped_into_a_published_book_is_found(site):
    item = ItemFactory(site=site, code="CLAMP")
    rows = [
        RuleRow(
            name=name,
            item="CLAMP",
            stage="enclosure",
            counted_on="run",
            measure="each",
            amount=10_000,
            source="drawing",
        )
        for name in ("first", "second")
    ]
    book = publish(site=site, rows=rows)
    assert altered_books(site) == []
    book.rules.create(
        seq=3, name="third", item=item, stage="covers", counted_on="run", measure="each", amount=1, source="nobody"
    )
    assert altered_books(site) == [book]
    assert any(str(book) in proof.faults for proof in prove_site(site))


def test_a_missing_guard_is_found(site):
    lift_guards(connection)
    assert len(prove_database()[1].faults) > 10


def test_a_row_that_points_to_another_site_is_found(site):
    assert crossings() == []
    south = SiteFactory(slug="south")
    kit = KitFactory(site=site)
    Kit.objects.of(site).filter(pk=kit.pk).update(run=RunFactory(site=south))
    line = PackingLineFactory(shipment=ShipmentFactory(site=site), item=ItemFactory(site=south))
    assert crossings() == [
        f"Kit {kit.pk} points by run to a Run elsewhere",
        f"PackingLine {line.pk} points by item to a Item elsewhere",
    ]


def test_proving_sums_takes_one_query(site, django_assert_num_queries):
    with django_assert_num_queries(1):
        assert uneven_items(site) == []
