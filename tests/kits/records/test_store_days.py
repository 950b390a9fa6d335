"""Whatever a store reports, in whatever order it arrives: the books hold, and saying it again changes nothing."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kits.audit.proofs import prove_site
from kits.models import Balance, BinCount, Move, Posting, ReceiptLine
from kits.receiving.queries import valid_counts
from kits.shortages.queries import reconcile
from takeoff.models import Member, Record, SetAside
from takeoff.records.decoding import Sent
from takeoff.records.services import take
from takeoff.sites.models import GOOD_KINDS
from tests.factories.kits import KitFactory, PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, TakeoffFactory, TakeoffLineFactory, member
from tests.lock_order import undone

pytestmark = pytest.mark.django_db
MONDAY = datetime(2026, 3, 2, 6, tzinfo=UTC)
ITEMS, RUNS, BINS = ("LUG", "TAPE"), ("CB-1", "CB-2"), ("Store", "Shelf 1", "kit CB-2")
ACTS = (
    *("arrive", "count good", "count again", "further", "shut", "damaged", "part", "release"),
    *("hand out", "borrow", "give back", "bin count", "move", "scrap", "list", "undo"),
    *("fill the box", "out of the box", "box count", "half", "not known", "stage done"),
)
BOX = "Crew A's box"

MORNING = [("count good", 0, 0, 0, 18), ("part", 1, 0, 0, 9), ("damaged", 1, 0, 0, 7)]
days = st.lists(
    st.tuples(
        st.sampled_from(ACTS),
        st.integers(0, 1),  # which item
        st.integers(0, 1),  # which run
        st.integers(0, 2),  # which bin
        st.integers(1, 30),  # how many
    ),
    min_size=3,
    max_size=14,
)


def records(day):
    """The acts of a day as records, each at its own minute, after a morning in which something comes."""
    rows = []
    for number, (act, which, where, there, quantity) in enumerate([*MORNING, *day]):
        item, run, bin_ = ITEMS[which], RUNS[where], BINS[there]
        crate = {"shipment": "S-1", "package": "Crate 1", "item": item, "counted": quantity}
        some = 1 + quantity % 6
        work = {"item": item, "run": run, "stage": "seals", "quantity": some}
        kind, row = {
            "arrive": ("arrivals", {"shipment": "S-1", "count": 1}),
            "count good": ("receipts", crate),
            "count again": ("receipts", crate | {"again": "same"}),
            "further": ("receipts", crate | {"again": "further"}),
            "shut": ("receipts", crate | {"condition": "not opened"}),
            "damaged": ("receipts", crate | {"condition": "damaged"}),
            "part": ("receipts", crate | {"part": "yes"}),
            "release": ("releases", {"item": item, "quantity": some, "bin": bin_, "reason": "found good"}),
            "hand out": ("issues", work),
            "borrow": ("issues", work | {"lender": RUNS[1 - where]}),
            "give back": ("returns", work | {"bin": bin_}),
            "bin count": ("counts", {"item": item, "bin": bin_, "counted": quantity}),
            "move": ("transfers", {"item": item, "quantity": some, "source": bin_, "target": BINS[there - 1]}),
            "scrap": ("scraps", {"item": item, "quantity": some, "bin": bin_, "reason": "crushed"}),
            "list": ("receipts", {key: cell for key, cell in crate.items() if key != "package"}),
            "fill the box": ("transfers", {"item": item, "quantity": some, "source": bin_, "target": BOX}),
            "out of the box": ("transfers", {"item": item, "quantity": some, "source": BOX, "target": bin_}),
            "box count": ("box_counts", {"item": item, "crew": "Crew A", "counted": quantity // 4}),
            "half": ("box_counts", {"item": item, "crew": "Crew A", "about": "half"}),
            "not known": ("box_counts", {"item": item, "crew": "Crew A", "counted": 0, "gone_to": "not known"}),
            "stage done": ("stage_reports", {"run": run, "stage": "seals", "done": f"{MONDAY:%Y-%m-%d}"}),
            "undo": ("reversals", {"reverses": f"r{max(0, number - 1 - there)}", "reason": "wrong tap"}),
        }[act]
        moment = (MONDAY + timedelta(minutes=number)).isoformat()
        said = {"id": f"r{number}", "at": moment, **row}
        rows.append(Sent(kind, {name: str(cell) for name, cell in said.items()}))
    return rows


def scene():
    site = SiteFactory(slug="here")
    shipment = ShipmentFactory(site=site, name="S-1")
    crate = PackageFactory(shipment=shipment, name="Crate 1")
    runs = [RunFactory(site=site, name=name, crew="Crew A") for name in RUNS]
    KitFactory(site=site, name="kit CB-2", run=runs[1])
    for code, usage in zip(ITEMS, ("fixed", "wiped"), strict=True):
        item = ItemFactory(site=site, code=code, usage=usage)
        PackingLineFactory(shipment=shipment, package=crate, item=item, quantity=20)
        for run in runs:
            takeoff = getattr(run, "takeoff", None) or TakeoffFactory(run=run, book=None)
            TakeoffLineFactory(takeoff=takeoff, item=item, stage="seals", quantity=12)
    return site


def balances(site):
    rows = Balance.objects.of(site).exclude(quantity=0)
    return sorted(rows.values_list("place__kind", "place__name", "item__code", "lot", "quantity"))


def total(rows):
    return rows.aggregate(total=Sum("quantity"))["total"] or 0


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(day=days, random=st.randoms(use_true_random=False))
def test_any_day_of_a_store_in_any_order_keeps_its_books(day, random):
    with undone():
        site = scene()
        sender, roles = member(site, "storekeeper"), frozenset(Member.Role.values)
        sent = records(day)
        random.shuffle(sent)
        while sent:
            size = random.randint(1, 4)
            batch, sent = sent[:size], sent[size:]
            answers = take(site=site, sender=sender, roles=roles, sent=batch)
            assert {answer.answer for answer in answers} <= {"kept", "look", "aside", "refused"}

        assert [proof for proof in prove_site(site) if not proof.holds] == []
        every = Balance.objects.of(site).order_by()
        assert {row["total"] for row in every.values("item").annotate(total=Sum("quantity"))} <= {0}
        assert not every.filter(place__kind__in=GOOD_KINDS, quantity__lt=0).exists()
        for item in site.items.all():
            came = valid_counts(site).filter(item=item).exclude(verdict=ReceiptLine.Judged.WRONG)
            lacks = total(every.filter(item=item, place__kind="supplier"))
            assert (came.aggregate(total=Sum("covers"))["total"] or 0) == -lacks
        # What was counted last in a crew's box stands, whatever came late from before it.
        counts = BinCount.objects.of(site).filter(place__kind="gang_box", posting__reversed_by=None)
        for last in {count.item_id: count for count in counts.order_by("posting__at")}.values():
            since = Move.objects.of(site).filter(item=last.item, posting__at__gt=last.posting.at)
            since = since.filter(posting__reversed_by=None, posting__reverses=None)
            came, left = since.filter(target=last.place), since.filter(source=last.place)
            held = every.filter(place=last.place, item=last.item)
            assert total(held) == last.counted + total(came) - total(left)
        for line in reconcile(site, site.local_date(MONDAY)).lines:
            assert sum(line.causes.values()) == line.need - line.usable - line.inbound

        before, postings = balances(site), Posting.objects.of(site).count()
        kept = list(Record.objects.of(site).order_by("pk"))
        said = [Sent(record.kind, record.row) for record in kept]
        again = take(site=site, sender=sender, roles=roles, sent=said)
        assert {answer.answer for answer in again} <= {"known", "aside"}
        assert (balances(site), Posting.objects.of(site).count()) == (before, postings)
        assert SetAside.objects.of(site).count() <= len(kept)
