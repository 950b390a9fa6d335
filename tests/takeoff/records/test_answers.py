"""What becomes of records: kept, set aside, tried again, placed, dropped; and when they happened."""

from datetime import timedelta

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from kits.audit.proofs import prove_site
from kits.models import Posting
from kits.stock.places import Places
from takeoff.models import AsideEnd, Item, Member, Record, SetAside, Site
from takeoff.records import batch
from takeoff.records.answers import question_of
from takeoff.records.decoding import Sent
from takeoff.records.record_kinds import kinds
from takeoff.records.row_hashes import hash_as_before, row_hash
from takeoff.records.services import drop_aside, keep_one, may_settle, replace_aside, take
from takeoff.records.terms.clocks import corrected, offset
from takeoff.records.terms.errors import AskFirstError, MalformedError, OtherContentError, RecordError
from tests.factories.kits import PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RecordFactory, RunFactory, SiteFactory, UserFactory
from tests.kits.makers import at, counted, kept, lying, move_of, post, received, report, stocked
from tests.takeoff.sheets.books import load

pytestmark = pytest.mark.django_db
PLANNER = frozenset(Member.Role.values)


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def item(site) -> Item:
    return ItemFactory(site=site, code="LUG")


@pytest.fixture
def run(site):
    return RunFactory(site=site, name="NORTH")


@pytest.fixture
def user():
    return UserFactory(username="sam")


def sent(kind: str, id_: str, *, number: int = 2, hour: int = 12, after=(), **row) -> Sent:
    basics = {"item": "LUG"} if kind not in {"reversals", "cuts"} else {}
    if kind in {"issues", "returns"}:
        basics |= {"quantity": "1", "run": "NORTH", "stage": "seals"}
    return Sent(kind, {"id": id_, "at": at(number, hour).isoformat(), **basics, **row}, None, tuple(after))


def answer(site, user, *records: Sent, roles=PLANNER, **more) -> list[str]:
    return [one.answer for one in take(site=site, sender=user, roles=roles, sent=records, device="phone", **more)]


def waits(site) -> list[str]:
    return sorted(str(one.record) for one in SetAside.objects.of(site).filter(end=None))


def audit(site):
    assert [proof.claim for proof in prove_site(site) if not proof.holds] == []


def test_what_lacks_stock_waits_and_is_in_the_books_when_the_stock_comes(site, item, run, user):
    assert answer(site, user, sent("issues", "i", quantity="4")) == ["aside"]
    assert waits(site) == ["i"]
    stocked(item, 3)
    assert waits(site) == ["i"], "not all of it is there"
    assert answer(site, user, sent("counts", "c", bin="Shelf", counted="5")) == ["kept"]
    assert waits(site) == []
    assert AsideEnd.objects.of(site).get().how == "retried"
    assert lying(item)["handed_out NORTH seals"] == 4
    assert answer(site, user, sent("issues", "i", quantity="4")) == ["known"]
    audit(site)


def test_what_lacks_another_record_of_the_batch_is_kept_at_once(site, item, run, user):
    stocked(item, 5)
    records = (sent("issues", "b", number=4, quantity="5"), sent("issues", "a", number=2, quantity="5"))
    back = sent("returns", "r", number=3, quantity="5")
    assert answer(site, user, *records) == ["aside", "kept"]
    assert answer(site, user, back) == ["kept"]
    assert waits(site) == []
    assert lying(item) == {"handed_out NORTH seals": 5, "lost_found Lost and found": -5}


def test_a_complete_history_leaves_nothing_aside_whatever_order_it_comes_in(site, item, run, user):
    """Bin 5: out 5 at nine, back 5 at ten, out 5 at eleven; the last comes first."""
    stocked(item, 5)
    nine = sent("issues", "nine", hour=9, quantity="5", bin="Store")
    ten = sent("returns", "ten", hour=10, quantity="5", bin="Store")
    eleven = sent("issues", "eleven", hour=11, quantity="5", bin="Store")
    assert answer(site, user, eleven) == ["kept"]
    assert answer(site, user, ten, nine) == ["kept", "kept"]
    assert waits(site) == []
    assert lying(item) == {"handed_out NORTH seals": 5, "lost_found Lost and found": -5}
    audit(site)


def test_the_latest_that_takes_is_left_out_and_each_left_out_is_tried_once(site, item, run, user):
    early, late = (
        sent("issues", "early", hour=9, quantity="3", bin="A"),
        sent("issues", "late", hour=11, bin="A", quantity="4"),
    )
    small = sent("issues", "small", hour=12, bin="A", quantity="1")
    assert answer(site, user, early, late, small) == ["aside"] * 3
    stocked(item, 4, "A", number=1)
    assert waits(site) == ["late"]
    assert lying(item)["handed_out NORTH seals"] == 4


def test_what_names_something_unknown_waits_until_it_is_known(site, item, user):
    stocked(item, 5)
    assert answer(site, user, sent("issues", "i")) == ["aside"]
    assert SetAside.objects.of(site).get().lacks == "run NORTH"
    load({"runs": [["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable"],
                   ["NORTH", "T1", "S1", 1, 3, 1, "C5"]],
          "cables": [["item", "size", "material"], ["C5", "500", "Cu"]]}, slug="here")  # fmt: skip
    assert waits(site) == []
    assert lying(item)["handed_out NORTH seals"] == 1


def test_what_waits_is_locked_with_what_it_waits_for(site, item, run, user):
    """A bin that comes with an item of a later key: both items are locked at once, in the house's order."""
    later = ItemFactory(site=site, code="TAPE")
    assert answer(site, user, sent("issues", "i", quantity="4", bin="Shelf")) == ["aside"]
    assert SetAside.objects.of(site).get().lacks == "bin shelf"
    assert answer(site, user, sent("counts", "c", item=later.code, bin="Shelf", counted="5")) == ["kept"]
    assert waits(site) == ["i"], "there is a bin, and nothing in it"


def test_what_hangs_on_a_record_that_has_not_come_waits_for_it(site, item, run, user):
    stocked(item, 5)
    assert answer(site, user, sent("issues", "second", after=["first"])) == ["aside"]
    assert answer(site, user, sent("issues", "first")) == ["kept"]
    assert waits(site) == []


def test_what_hangs_on_a_record_of_its_own_batch_is_kept_with_it(site, item, run, user):
    stocked(item, 5)
    second = sent("reversals", "second", hour=13, reverses="first", reason="wrong tap", after=["first"])
    assert answer(site, user, sent("issues", "first"), second) == ["kept", "kept"]
    assert answer(site, user, sent("issues", "fourth", after=["third"])) == ["aside"]
    audit(site)


def test_what_contradicts_waits_for_a_person(site, item, run, user):
    stocked(item, 5, lot="L", expires=at(1).date())
    assert answer(site, user, sent("issues", "i", number=9, lot="L")) == ["aside"]
    assert SetAside.objects.of(site).get().lacks == ""
    stocked(item, 5, lot="M")
    assert waits(site) == ["i"]


def test_a_record_aside_is_placed_by_another_once(site, item, run, user):
    stocked(item, 5, "A")
    answer(site, user, sent("issues", "i", bin="B"))
    (aside,) = SetAside.objects.of(site)
    assert may_settle(frozenset({"storekeeper"}), aside)
    assert not may_settle(frozenset({"purchaser"}), aside)
    row = {**sent("issues", "j", bin="A").row}
    record = replace_aside(site=site, aside=aside, kind="issues", row=row, sender=user)
    assert lying(item)["handed_out NORTH seals"] == 1
    (again,) = take(site=site, sender=user, roles=PLANNER, sent=[sent("issues", "i", bin="B")])
    assert (again.answer, again.said) == ("known", (f"It was placed by {record}.",))
    with pytest.raises(RecordError, match="settled meanwhile"):
        drop_aside(site=site, aside=aside, reason="twice", sender=user)
    with pytest.raises(RecordError, match="settled meanwhile"):
        replace_aside(site=site, aside=aside, kind="issues", row={**row, "id": "k"}, sender=user)
    assert lying(item)["handed_out NORTH seals"] == 1, "a placing that fails leaves nothing behind"


def test_a_record_aside_is_dropped_with_a_reason_and_never_tried_again(site, item, run, user):
    answer(site, user, sent("issues", "i"))
    (aside,) = SetAside.objects.of(site)
    with pytest.raises(RecordError, match="Say why"):
        drop_aside(site=site, aside=aside, reason=" ", sender=user)
    drop_aside(site=site, aside=aside, reason="it was another site's", sender=user)
    stocked(item, 5)
    assert "handed_out NORTH seals" not in lying(item)
    (again,) = take(site=site, sender=user, roles=PLANNER, sent=[sent("issues", "i")])
    assert again.said == ("It was dropped: it was another site's",)


def test_what_others_set_aside_after_the_locks_were_taken_is_tried_once_the_records_are_kept(
    site, item, run, user, monkeypatch, django_capture_on_commit_callbacks
):
    stocked(item, 5)
    aside = sent("issues", "i", quantity="4", bin="Bench")
    assert answer(site, user, aside) == ["aside"]
    ItemFactory(site=site, code="NUT")
    look = batch.waiting_for
    first = iter([lambda *_: []])  # the look ahead of the locks came too early to see it
    monkeypatch.setattr(batch, "waiting_for", lambda site, filings: next(first, look)(site, filings))
    with django_capture_on_commit_callbacks() as callbacks:
        assert answer(site, user, sent("counts", "c", item="NUT", bin="Bench", counted="3")) == ["kept"]
    assert waits(site) == ["i"]
    there = Places(site)  # put there past any record, which would be a reason to try again by itself
    moves = [move_of(item, 5, there.known("Store"), there.known("Bench"))]
    post(site=site, event_id="m", kind=Posting.Kind.TRANSFER, at=at(1), moves=moves)
    for callback in callbacks:
        callback()
    assert waits(site) == []
    assert lying(item)["handed_out NORTH seals"] == 4


def test_taking_back_what_waits_aside_drops_it(site, item, run, user):
    answer(site, user, sent("issues", "i"))
    assert answer(site, user, sent("reversals", "r", number=3, reverses="i", reason="wrong tap")) == ["kept"]
    stocked(item, 5)
    assert waits(site) == []
    assert lying(item) == {"bin Store": 5, "lost_found Lost and found": -5}


def test_an_act_and_its_reversal_come_in_any_order(site, item, run, user):
    stocked(item, 5)
    back = sent("reversals", "r", number=3, reverses="i", reason="wrong run")
    assert answer(site, user, back) == ["aside"]
    assert answer(site, user, sent("issues", "i")) == ["kept"]
    assert waits(site) == []
    assert lying(item) == {"bin Store": 5, "lost_found Lost and found": -5}
    both = (sent("reversals", "r2", number=3, reverses="i2", reason="again"), sent("issues", "i2"))
    assert answer(site, user, *both) == ["kept", "kept"]
    assert lying(item) == {"bin Store": 5, "lost_found Lost and found": -5}


def test_a_reversal_is_never_before_its_act_and_takes_nothing_back_twice(site, item, run, user):
    stocked(item, 5)
    answer(site, user, sent("issues", "i", number=5), sent("reversals", "r", number=1, reverses="i", reason="typed"))
    assert Posting.objects.of(site).get(event_id="r").at == at(5)
    (again,) = take(site=site, sender=user, roles=PLANNER,
                    sent=[sent("reversals", "s", number=6, reverses="i", reason="typed")])  # fmt: skip
    assert (again.answer, again.said) == ("aside", ("i was taken back before, by r.",))
    (of_reversal,) = take(site=site, sender=user, roles=PLANNER,
                          sent=[sent("reversals", "t", number=6, reverses="r", reason="typed")])  # fmt: skip
    assert of_reversal.answer == "refused"


def test_a_page_is_asked_first_and_confirms_what_it_has_seen(site):
    seal = ItemFactory(site=site, code="SEAL", refuse="silicone")
    shipment = ShipmentFactory(site=site, name="S1")
    PackingLineFactory(shipment=shipment, item=seal, quantity=5)
    row = {"id": "r", "shipment": "S1", "item": "SEAL", "counted": "5", "at": at(), "grade": "silicone"}
    with pytest.raises(AskFirstError) as asked:
        keep_one(site=site, kind="receipts", row=row)
    assert Record.objects.of(site).count() == 0
    with pytest.raises(AskFirstError):
        keep_one(site=site, kind="receipts", row=row, confirmed=question_of(["another question"]))
    record = keep_one(site=site, kind="receipts", row=row, confirmed=asked.value.question)
    assert (record.answer, record.said) == ("look", list(asked.value.said))
    assert keep_one(site=site, kind="receipts", row=row) == record, "pressing twice asks nothing more"


def test_a_page_refuses_what_a_queue_would_set_aside(site, item, run):
    with pytest.raises(RecordError, match="LUG: 1 each asked, 0 there"):
        keep_one(site=site, kind="issues", row=sent("issues", "i").row)
    with pytest.raises(MalformedError) as refused:
        keep_one(site=site, kind="issues", row={**sent("issues", "i").row, "quantity": "2 boxes"})
    assert refused.value.column == "quantity"
    assert Record.objects.of(site).count() == 0


def test_the_same_act_by_page_phone_and_sheet_is_one(site, item, run, user):
    stocked(item, 5)
    assert answer(site, user, sent("issues", "i", quantity="2.0")) == ["kept"]
    row = {"id": "i", "at": at(), "item": item, "quantity": 2, "run": run, "stage": "Seals", "by": ""}
    keep_one(site=site, kind="issues", row=row)
    header = ["id", "item", "quantity", "run", "stage", "at", "bin"]
    row = ["i", "LUG", "2", "NORTH", "seals", "2026-03-02T12:00:00+00:00", None]
    result = load({"issues": [header, row]}, slug="here")
    assert result.tables[0].counts["unchanged"] == 1
    assert Posting.objects.of(site).filter(kind="issue").count() == 1


def test_the_hash_is_of_the_row_and_a_column_at_its_default_changes_nothing():
    kind = kinds()["issues"]
    assert row_hash("issues", {"a": "1", "b": "2"}) == row_hash("issues", {"b": "2", "a": "1"})
    assert row_hash("issues", {"a": "1"}) != row_hash("returns", {"a": "1"})
    assert {column.name for column in kind.columns if column.default not in (None, "")} == set()


def test_what_was_kept_before_records_were_is_known_by_its_old_hash(site, item, run, user):
    table = [["id", "item", "bin", "counted", "at"], ["c", "LUG", "Store", 5, "2026-03-01 08:00"]]
    values = {"id": "c", "item": "LUG", "bin": "Store", "counted": 5, "at": at(1, 8).astimezone(site.tz), "lot": "",
              "expires": None, "by": ""}  # fmt: skip
    RecordFactory(site=site, event_id="c", kind="counts", row_hash=hash_as_before("counts", values), at=at(1))
    result = load({"counts": table}, slug="here")
    assert (result.loaded, result.tables[0].counts["unchanged"]) == (True, 1)
    table[1][3] = 6
    assert not load({"counts": table}, slug="here").loaded
    with pytest.raises(OtherContentError):
        report(site, "issues", event="c", item=item, quantity=1, run=run, stage="seals")


def test_two_records_of_before_with_one_id_are_both_known(site, item):
    values = {"id": "x", "item": "LUG", "bin": "Store", "counted": 5, "at": at(1, 8).astimezone(site.tz)}
    RecordFactory(site=site, event_id="x", kind="cuts", row_hash="-", at=at())
    RecordFactory(site=site, event_id="counts/x", kind="counts", row_hash=hash_as_before("counts", values), at=at())
    table = [["id", "item", "bin", "counted", "at"], ["x", "LUG", "Store", 5, "2026-03-01 08:00"]]
    assert load({"counts": table}, slug="here").tables[0].counts["unchanged"] == 1


def test_the_database_keeps_records_and_their_ends(site, item, run, user):
    answer(site, user, sent("issues", "i"))
    (aside,) = SetAside.objects.of(site)
    drop_aside(site=site, aside=aside, reason="no", sender=user)
    for row, change in ((aside.record, {"answer": "look"}), (aside, {"reason": "x"}), (aside.end, {"reason": "x"})):
        with pytest.raises(DatabaseError), transaction.atomic():
            type(row).objects.filter(pk=row.pk).update(**change)
        with pytest.raises(DatabaseError), transaction.atomic():
            row.delete()


class TestCountsAreOfTheirMoment:
    def test_a_count_sent_late_is_held_against_the_books_of_its_moment(self, site, item, run, user):
        stocked(item, 10, number=1)
        report(site, "issues", item=item, quantity=2, run=run, stage="seals", number=2, at=at(2, 12))
        assert answer(site, user, sent("counts", "c", hour=10, bin="Store", counted="10")) == ["kept"]
        assert kept(item, "lost_found") == -10, "nothing was found but the opening count"
        assert lying(item)["bin Store"] == 8
        audit(site)

    def test_what_happened_before_a_count_and_comes_later_leaves_the_counted_figure(self, site, item, run, user):
        stocked(item, 12, number=1)
        assert answer(site, user, sent("counts", "c", hour=10, bin="Store", counted="10")) == ["kept"]
        assert kept(item, "lost_found") == -10
        late = sent("issues", "late", hour=9, quantity="2", bin="Store")
        assert answer(site, user, late) == ["kept"]
        assert (lying(item)["bin Store"], kept(item, "lost_found")) == (10, -12)
        restored = Posting.objects.of(site).get(restores__event_id="c")
        assert (restored.kind, restored.at, restored.document) == ("count", at(2, 10), "c")
        assert restored.reason == "late was before the count c and came after it"
        audit(site)

    def test_what_was_counted_as_gone_can_still_be_reported_as_handed_out(self, site, item, run, user):
        stocked(item, 5, number=1)
        answer(site, user, sent("counts", "c", hour=10, bin="Store", counted="0"))
        assert answer(site, user, sent("issues", "late", hour=9, quantity="5")) == ["kept"]
        assert lying(item) == {"handed_out NORTH seals": 5, "lost_found Lost and found": -5}

    def test_a_late_count_before_a_count_leaves_the_later_one(self, site, item, user):
        stocked(item, 10, number=1)
        answer(site, user, sent("counts", "noon", hour=12, bin="Store", counted="7"))
        answer(site, user, sent("counts", "ten", hour=10, bin="Store", counted="9"))
        assert (lying(item)["bin Store"], kept(item, "lost_found")) == (7, -7)
        audit(site)

    def test_taking_back_what_was_before_a_count_leaves_the_count(self, site, item, run, user):
        stocked(item, 10, number=1)
        answer(site, user, sent("issues", "i", hour=9, quantity="2"))
        answer(site, user, sent("counts", "c", hour=10, bin="Store", counted="8"))
        answer(site, user, sent("reversals", "r", hour=15, reverses="i", reason="never happened"))
        assert (lying(item)["bin Store"], kept(item, "lost_found")) == (8, -8)
        audit(site)

    def test_taking_a_count_back_takes_what_it_held_on_to_as_well(self, site, item, run, user):
        stocked(item, 12, number=1)
        answer(site, user, sent("counts", "c", hour=10, bin="Store", counted="10"))
        answer(site, user, sent("issues", "late", hour=9, quantity="2", bin="Store"))
        assert answer(site, user, sent("reversals", "r", hour=15, reverses="c", reason="wrong bin")) == ["kept"]
        assert (lying(item)["bin Store"], kept(item, "lost_found")) == (10, -12)
        audit(site)

    def test_goods_that_were_received_before_a_count_are_in_it(self, site, item, user):
        shipment = ShipmentFactory(site=site, name="S1")
        PackingLineFactory(shipment=shipment, item=item, quantity=6)
        answer(site, user, sent("counts", "c", hour=10, bin="Store", counted="6"))
        received(shipment, counted(item, 6), number=1)
        assert (lying(item)["bin Store"], kept(item, "lost_found")) == (6, 0)
        audit(site)


@pytest.mark.parametrize(
    ("behind", "moved"), [(0, 0), (3, 0), (-3, 0), (90, 90), (7200, 7200), (-600, -600)], ids=lambda value: f"{value} s"
)
def test_a_clocks_offset_is_added_from_five_seconds_on(behind, moved):
    received_at = timezone.now()
    clock = received_at - timedelta(seconds=behind)
    assert offset(clock, received_at) == timedelta(seconds=moved)
    happened = received_at - timedelta(hours=5)
    assert corrected(happened, clock, received_at) == happened + timedelta(seconds=moved)


def test_without_a_clock_only_the_future_is_put_right():
    now = timezone.now()
    assert corrected(now - timedelta(days=1), None, now) == now - timedelta(days=1)
    assert corrected(now + timedelta(days=1), None, now) == now
