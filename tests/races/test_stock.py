"""Two people at one bin. Each test of a lock has a twin that shows what happens without it."""

from functools import partial

import pytest
from django.db import OperationalError, connection

from kits.audit.proofs import prove_site, rebuilt_balances
from kits.models import Balance, Posting, ReceiptLine
from kits.receiving.packing_lists import PackingLists
from kits.stock import keeper, services
from kits.stock.books.errors import CountedBeforeError, NotThereError
from kits.stock.places import Places
from kits.transfers.records import TakingsInKind
from takeoff.models import Item, Record
from tests.factories.kits import KitFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, TakeoffFactory, TakeoffLineFactory
from tests.kits.makers import at, counted, handed, lying, move_of, post, received, report, stocked
from tests.races.together import at_once, meeting, without_lock_at_start

pytestmark = pytest.mark.django_db(transaction=True)
ON_POSTGRESQL = pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock")


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
def without_item_locks(monkeypatch):
    for module in (services, keeper):
        monkeypatch.setattr(module, "lock_items", lambda items: None)


@pytest.fixture
def two_hand_outs(item, run, monkeypatch):
    """Two hand-outs of 6 out of 10, each of which has read the books before the other writes, where it can."""
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    return [partial(handed, item, 6, run, stage) for stage in ("seals", "cables")]


def sound(site) -> list[str]:
    return [proof.claim for proof in prove_site(site) if not proof.holds]


def test_of_two_hand_outs_that_together_are_too_much_one_is_refused(item, two_hand_outs):
    results = at_once(*two_hand_outs)
    refused = [result for result in results if isinstance(result, NotThereError)]
    assert [str(error) for error in refused] == ["LUG: 6 each asked, 4 there (4 in Store)."]
    assert lying(item)["bin Store"] == 4
    assert sound(item.site) == []


@ON_POSTGRESQL
def test_without_the_lock_both_are_handed_out_and_the_books_are_wrong(item, two_hand_outs, without_item_locks):
    results = at_once(*two_hand_outs)
    assert [type(result) for result in results] == [Posting, Posting]
    assert rebuilt_balances(item.site) != []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has row locks, see above")
def test_without_the_lock_at_the_start_one_of_them_stops_on_an_error(item, two_hand_outs, monkeypatch):
    monkeypatch.setattr("takeoff.database.locks.TRIES", 1)
    results = at_once(*map(without_lock_at_start, two_hand_outs))
    stopped = [result for result in results if isinstance(result, OperationalError)]
    assert [str(error) for error in stopped] == ["database is locked"]


def test_the_same_record_sent_twice_at_once_is_kept_once(item, run, monkeypatch):
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    act = partial(handed, item, 6, run, event="x")
    first, second = at_once(act, act)
    assert first == second
    assert Record.objects.of(item.site).filter(event_id="x").count() == 1
    assert lying(item)["bin Store"] == 4


@ON_POSTGRESQL
def test_without_the_lock_the_id_alone_still_keeps_the_second_out(item, run, monkeypatch, without_item_locks):
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    act = partial(handed, item, 6, run, event="x")
    first, second = at_once(act, act)
    assert first == second, "the second was tried again and found the first"
    assert Posting.objects.of(item.site).filter(event_id="x").count() == 1
    assert lying(item)["bin Store"] == 4


def both(items, target, event):
    places = Places(items[0].site)
    steps = [move_of(item, 1, places.bin("Store"), places.bin(target)) for item in items]
    return post(site=items[0].site, event_id=event, kind=Posting.Kind.TRANSFER, at=at(), moves=steps)


def test_two_who_take_the_same_items_in_opposite_order_both_go_through(item, monkeypatch):
    """Rows are locked in key order, whatever order the moves are in."""
    other = ItemFactory(site=item.site)
    stocked(other, 10)
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    results = at_once(partial(both, [item, other], "A", "x"), partial(both, [other, item], "B", "y"))
    assert [type(result) for result in results] == [Posting, Posting]
    assert (lying(item)["bin Store"], lying(other)["bin Store"]) == (8, 8)
    assert sound(item.site) == []


def test_two_who_need_the_same_new_bin_share_one(item):
    other = ItemFactory(site=item.site)
    results = at_once(partial(stocked, item, 3, "New bin"), partial(stocked, other, 4, "New bin"))
    assert [type(result) for result in results] == [Posting, Posting]
    assert (lying(item)["bin New bin"], lying(other)["bin New bin"]) == (3, 4)


def test_two_who_fill_the_first_gang_box_of_a_crew_share_one(item):
    site, others = item.site, [ItemFactory(site=item.site, usage="wiped") for _ in range(2)]
    RunFactory(site=site, name="SOUTH", crew="Crew A")
    for other in others:
        stocked(other, 10)
    said = {"source": "Store", "target": "crew a's  BOX", "number": 3}
    acts = [partial(report, site, "transfers", item=other, quantity="4", **said) for other in others]
    assert [type(result) for result in at_once(*acts)] == [Posting, Posting]
    assert [lying(other)["gang_box Crew A's box"] for other in others] == [4, 4]


@pytest.fixture
def two_who_count_a_box(item, monkeypatch):
    """Two who find 6 and then 5 left of 10 in a gang box, each having read the books first."""
    site, tape = item.site, ItemFactory(site=item.site, code="TAPE", usage="wiped")
    run = RunFactory(site=site, name="SOUTH", crew="Crew A")
    TakeoffLineFactory(takeoff=TakeoffFactory(run=run, book=None), item=tape, stage="seals", quantity=20)
    stocked(tape, 10)
    handed(tape, 1, run, number=1)
    moved = {"quantity": "9", "source": "Store", "target": "Crew A's box", "number": 2}
    report(site, "transfers", item=tape, **moved)
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    said = {"item": tape, "crew": "Crew A"}
    return tape, [
        partial(report, site, "box_counts", counted=left, number=int(day), **said) for left, day in (("6", 6), ("5", 7))
    ]


def test_two_who_count_a_gang_box_share_out_what_is_gone_once(two_who_count_a_box):
    tape, acts = two_who_count_a_box
    assert [type(result) for result in at_once(*acts)] == [Posting, Posting]
    assert lying(tape)["gang_box Crew A's box"] == 5
    assert lying(tape)["handed_out SOUTH seals"] == 5
    assert sound(tape.site) == []


@ON_POSTGRESQL
def test_without_the_lock_what_is_gone_is_shared_out_twice(two_who_count_a_box, without_item_locks):
    tape, acts = two_who_count_a_box
    assert [type(result) for result in at_once(*acts)] == [Posting, Posting]
    assert rebuilt_balances(tape.site) != []


@pytest.fixture
def count_and_hand_out(item, run, monkeypatch):
    """A count of 9 where the books have 10, and a hand-out of 3 the day after, each having read the books first."""
    stocked(item, 10, number=3)  # lost and found is there
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    return [partial(stocked, item, 9, number=4), partial(handed, item, 3, run, number=5)]


def test_a_count_against_a_hand_out_leaves_what_was_counted_less_what_left(item, count_and_hand_out):
    assert [type(result) for result in at_once(*count_and_hand_out)] == [Posting, Posting]
    assert lying(item)["bin Store"] == 6
    assert sound(item.site) == []


@ON_POSTGRESQL
def test_without_the_lock_the_count_or_the_hand_out_is_forgotten(item, count_and_hand_out, without_item_locks):
    assert [type(result) for result in at_once(*count_and_hand_out)] == [Posting, Posting]
    assert rebuilt_balances(item.site) != []


@pytest.fixture
def two_who_undo(item, run, monkeypatch):
    """Two who take back one hand-out, each having read that nobody has."""
    out = handed(item, 6, run)
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    return [
        partial(report, item.site, "reversals", event=name, reverses=out.event_id, reason="wrong tap", number=4)
        for name in ("u1", "u2")
    ]


def test_of_two_who_undo_one_act_one_is_told_that_it_was_done(item, two_who_undo):
    results = at_once(*two_who_undo)
    assert sorted(type(result).__name__ for result in results) == ["AlreadyReversedError", "Posting"]
    assert lying(item)["bin Store"] == 10
    assert sound(item.site) == []


@ON_POSTGRESQL
def test_without_the_lock_the_database_alone_keeps_the_second_undo_out(
    item, two_who_undo, without_item_locks, monkeypatch
):
    monkeypatch.setattr("takeoff.database.locks.TRIES", 1)
    results = at_once(*two_who_undo)
    assert sorted(type(result).__name__ for result in results) == ["IntegrityError", "Posting"]


@pytest.fixture
def two_at_the_last_box(item, run, monkeypatch):
    """The run itself and one that borrows from it, at the last piece in the box of its kit."""
    other = RunFactory(site=item.site, name="SOUTH")
    places = Places(item.site)
    places.handed_out(other, "seals")
    box = places.box_of(KitFactory(site=item.site, name="K1", run=run))
    plate = ItemFactory(site=item.site, code="PLATE")
    stocked(plate, 1, place=box.name)
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    return plate, [partial(handed, plate, 1, run), partial(handed, plate, 1, other, lender=run)]


def test_of_two_at_the_last_box_one_gets_it(two_at_the_last_box):
    plate, acts = two_at_the_last_box
    assert sorted(type(result).__name__ for result in at_once(*acts)) == ["NotThereError", "Posting"]
    assert lying(plate) == {"lost_found Lost and found": -1} | {
        place: quantity for place, quantity in lying(plate).items() if place.startswith("handed_out")
    }
    assert sound(plate.site) == []


@ON_POSTGRESQL
def test_without_the_lock_both_get_the_last_box(two_at_the_last_box, without_item_locks):
    plate, acts = two_at_the_last_box
    assert [type(result) for result in at_once(*acts)] == [Posting, Posting]
    assert rebuilt_balances(plate.site) != []


@pytest.fixture
def two_counters(item, monkeypatch):
    """Two who each count 10 of a list with two lines of 10, and have read the list before the other writes."""
    shipment = ShipmentFactory(site=item.site, name="S1")
    for _ in range(2):
        PackingLineFactory(shipment=shipment, item=item, quantity=10)
    monkeypatch.setattr(PackingLists, "of", meeting(PackingLists.of))
    return [partial(received, shipment, counted(item, 10, partial="yes"), event=name) for name in ("a", "b")]


def test_two_who_count_one_item_of_a_shipment_fill_both_lines(item, two_counters):
    at_once(*two_counters)
    lines = ReceiptLine.objects.of(item.site).exclude(covers=0).values_list("packing_line", "covers")
    assert sorted(covers for _, covers in lines) == [10, 10]
    assert len({line for line, _ in lines}) == 2
    assert sound(item.site) == []


@ON_POSTGRESQL
def test_without_the_lock_one_line_gets_all_and_the_other_none(item, two_counters, without_item_locks):
    at_once(*two_counters)
    lines = ReceiptLine.objects.of(item.site).exclude(covers=0).values_list("packing_line", "covers")
    assert len({line for line, _ in lines}) == 1, "each read that nothing was counted yet"


@pytest.fixture
def counted_twice(item, monkeypatch):
    """Two who each count all 10 of a line, and have read that nobody has before the other writes."""
    shipment = ShipmentFactory(site=item.site, name="S1")
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    monkeypatch.setattr(PackingLists, "of", meeting(PackingLists.of))
    return [
        partial(received, shipment, counted(item, 10), event=name, number=day) for name, day in (("a", 2), ("b", 3))
    ]


def test_of_two_who_count_one_line_the_second_is_asked_whether_it_is_the_same(item, counted_twice):
    results = at_once(*counted_twice)
    assert [type(result) for result in results if isinstance(result, Exception)] == [CountedBeforeError]
    assert lying(item)["bin Store"] == 20, "10 from before, and 10 that came"
    assert sound(item.site) == []


@ON_POSTGRESQL
def test_without_the_lock_nobody_is_asked_and_both_counts_add_up(item, counted_twice, without_item_locks):
    results = at_once(*counted_twice)
    assert not any(isinstance(result, Exception) for result in results)
    assert len(ReceiptLine.objects.of(item.site).filter(covers=10)) == 2


@pytest.fixture
def crossing(monkeypatch):
    """Two sites that have sent each other something, and take it in at the same moment."""
    sites = [SiteFactory(slug="here"), SiteFactory(slug="there")]
    items = [ItemFactory(site=site, code="LUG") for site in sites]
    for item, (site, to) in zip(items, (sites, sites[::-1]), strict=True):
        stocked(item, 5)
        report(site, "sends", event="s", item=item, quantity="3", to=to.slug, bin="Store")
    monkeypatch.setattr(services, "read_books", meeting(services.read_books))
    acts = [
        partial(report, to, "takings_in", event="t", number=3, sent="s", **{"from": site.slug})
        for site, to in (sites, sites[::-1])
    ]
    return items, acts


def test_two_sites_that_take_in_from_each_other_both_go_through(crossing):
    items, acts = crossing
    assert [type(result) for result in at_once(*acts)] == [Posting, Posting]
    assert [lying(item)["bin Store"] for item in items] == [5, 5]


@ON_POSTGRESQL
def test_without_both_sites_locked_at_once_they_wait_for_each_other(crossing, monkeypatch):
    _items, acts = crossing
    monkeypatch.setattr("takeoff.database.locks.TRIES", 1)
    monkeypatch.setattr(TakingsInKind, "items", lambda kind, site, rows: list(Item.objects.of(site)))
    monkeypatch.setattr(keeper, "lock_items", meeting(keeper.lock_items))
    assert any(isinstance(result, OperationalError) and "deadlock" in str(result) for result in at_once(*acts))


def test_nothing_of_a_race_is_left_in_the_books(item, run):
    """Many at once at one item: as many as there is, and never more."""
    results = at_once(*[partial(handed, item, 1, run) for _ in range(12)])
    assert sum(isinstance(result, Posting) for result in results) == 10
    assert sum(isinstance(result, NotThereError) for result in results) == 2
    assert not Balance.objects.of(item.site).filter(quantity__lt=0, may_be_negative=False).exists()
    assert sound(item.site) == []
