"""A truck that is counted without a list, and its list, which comes later."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from kits.audit.proofs import prove_site
from kits.models import Kit, LotDay, Posting, Receipt, Shipment
from kits.receiving import sheets
from kits.receiving.queries import delivery_report
from kits.shortages.queries import reconcile
from kits.stock.books.errors import LedgerError
from takeoff.database.locks import rehearsed
from takeoff.models import Place, Record, Run, Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from tests.factories.kits import PackingLineFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, SupplierFactory, member
from tests.kits.makers import at, counted, handed, kept, lying, moves_of, received, report, stocked
from tests.kits.sheets import site_with, told
from tests.takeoff.sheets.books import load

pytestmark = pytest.mark.django_db
HEADER = ["shipment", "supplier", "item", "quantity", "package", "kit"]


@pytest.fixture
def site():
    assert told(site_with()) == []
    found = Site.objects.get(slug="north")
    keep_one(site=found, kind="shipments_found", row={"id": "f", "shipment": "S9", "at": at(2)})
    return found


@pytest.fixture
def shipment(site):
    return Shipment.objects.of(site).get(name="S9")


@pytest.fixture
def lug(site):
    return site.items.get(code="LUG")


def listed(*rows, **more) -> list[str]:
    return told(load({"shipments": [HEADER, *(["S9", "Bus works", *row] for row in rows)]}, **more))


def figures(shipment) -> list[tuple[int, ...]]:
    """Counted good, damaged, short and over of each line, whole."""
    shipment.refresh_from_db()
    reports = [line.report for line in delivery_report(shipment).lines]
    return [tuple(ticks // 10_000 for ticks in (r.good, r.damaged, r.short, r.over)) for r in reports]


def inbound(site, code) -> int:
    (line,) = [line for line in reconcile(site, date(2026, 3, 20)).lines if line.item.code == code]
    return line.inbound // 10_000


def proved(site) -> bool:
    return all(proof.holds for proof in prove_site(site))


def test_what_was_counted_answers_the_list_that_comes_later(site, shipment, lug):
    before = inbound(site, "LUG")
    first = received(shipment, counted(lug, 10)).posting
    assert listed(["LUG", 12, "", None]) == []
    assert figures(shipment) == [(10, 0, 2, 0)]
    found = delivery_report(shipment)
    assert (found.unlisted, [truck.delivered for truck in found.trucks]) == ((), [date(2026, 3, 2)])
    assert inbound(site, "LUG") == before
    assert lying(lug) == {"bin Store": 10, "supplier Bus works": -10}
    replaced = Posting.objects.get(reverses=first)
    assert (replaced.kind, replaced.at, replaced.reason) == ("replaced", first.at, "the list of S9 names it now")
    assert moves_of(replaced) == [("Store", "Sender not known", 10, "")]
    assert proved(site)


def test_the_same_list_loaded_again_changes_nothing(site, shipment, lug):
    received(shipment, counted(lug, 10))
    listed(["LUG", 12, "", None])
    postings = Posting.objects.count()
    assert listed(["LUG", 12, "", None]) == []
    assert listed(["LUG", 11, "", None]) == []
    assert (Posting.objects.count(), figures(shipment)) == (postings, [(10, 0, 1, 0)])


def test_a_dry_run_of_the_list_changes_nothing_and_keeps_nobody_waiting(site, shipment, lug, monkeypatch):
    received(shipment, counted(lug, 10))
    monkeypatch.setattr(sheets, "lock_items", lambda items: kept_waiting.append(not rehearsed()))
    kept_waiting: list[bool] = []
    assert listed(["LUG", 12, "", None], dry_run=True) == []
    assert (len(delivery_report(shipment).unlisted), kept_waiting) == (1, [False])


def test_a_count_of_a_package_answers_the_lines_of_that_package_alone(site, shipment, lug):
    row = {"id": "t", "shipment": "S9", "count": "2", "further": "crate 7, crate 8", "at": at(2)}
    keep_one(site=site, kind="arrivals", row=row)
    crates = {package.name: package for package in shipment.packages.all()}
    received(shipment, counted(lug, 10, package=crates["crate 7"]), counted(lug, 3, package=crates["crate 8"]))
    assert listed(["LUG", 10, "crate 7", None]) == []
    assert figures(shipment) == [(10, 0, 0, 0)]
    (left,) = delivery_report(shipment).unlisted
    assert (left.counted, left.receipt.package.name) == (3, "crate 8")
    assert lying(lug)["bin Store"] == 13
    assert proved(site)


def test_it_stays_where_it_was_put_though_the_list_names_a_kit(site, shipment, lug):
    received(shipment, counted(lug, 10, bin="Shelf 4"))
    assert listed(["LUG", 10, "", "K1"]) == []
    assert lying(lug)["bin Shelf 4"] == 10
    assert figures(shipment) == [(10, 0, 0, 0)]
    assert proved(site)


def test_it_does_not_matter_what_was_handed_out_or_counted_since(site, shipment, lug):
    received(shipment, counted(lug, 10))
    stocked(lug, 9, number=2)  # at the same moment
    handed(lug, 8, Run.objects.of(site).get(name="NORTH"), number=4)
    stocked(lug, 2, number=5)
    assert listed(["LUG", 10, "", "K1"]) == []
    assert lying(lug)["bin Store"] == 2
    assert figures(shipment) == [(10, 0, 0, 0)]
    assert proved(site)


def test_good_and_damaged_parts_and_further_goods_each_stay_what_they_are(site, shipment, lug):
    received(shipment, counted(lug, 4, partial="yes"), counted(lug, 1, condition="damaged"), number=2)
    received(shipment, counted(lug, 5, again="further"), number=3)
    received(shipment, counted(lug, 2, again="further"), number=4)
    assert listed(["LUG", 6, "a", None], ["LUG", 6, "b", None]) == []
    assert figures(shipment) == [(5, 1, 0, 0), (6, 0, 0, 0)]
    assert (lying(lug)["bin Store"], kept(lug, Place.Kind.QUARANTINE)) == (11, 1)
    received(shipment, counted(lug, 12, again="same"), number=5)
    assert lying(lug)["bin Store"] == 12
    assert proved(site)


def test_what_was_judged_and_said_of_lots_stays(site, shipment):
    seal, large = (site.items.get(code=code) for code in ("SEAL", "BR-28"))
    received(
        shipment,
        counted(seal, 4, came_item=large, lot="L1", made="2026-01-01", expires="2026-12-31"),
        counted(seal, 3, grade="silicone", lot="L2", expires="2026-11-30"),
    )
    report(site, "lot_days", item=seal, lot="BR-28 L1", expires="2026-10-31", reason="misread", number=2)
    seal.refuse, seal.accept = "", ""
    seal.save()
    stock = lying(seal)
    assert listed(["SEAL", 14, "", None]) == []
    unknown, named = "supplier Sender not known", "supplier Bus works"
    expected = {place.replace(unknown, named): quantity for place, quantity in stock.items()}
    assert lying(seal) == expected
    (line,) = delivery_report(Shipment.objects.get(pk=shipment.pk)).lines
    assert (line.report.good, line.report.refused) == (110_891, 30_000)
    standing = LotDay.objects.of(site).filter(posting__reversed_by=None, lot="BR-28 L1")
    assert {str(row.day) for row in standing} == {"2026-10-31"}
    assert proved(site)


def test_a_wrong_item_answers_the_line_and_stays_on_hold_as_what_it_is(site, shipment, lug):
    seal = site.items.get(code="SEAL")
    received(shipment, counted(lug, 10, condition="wrong item", came_item=seal))
    received(shipment, counted(seal, 0, condition="wrong item", came_text="a box of nails"))
    assert listed(["LUG", 10, "", None], ["SEAL", 2, "", None]) == []
    reports = [line.report for line in delivery_report(Shipment.objects.get(pk=shipment.pk)).lines]
    assert [one.closed for one in reports] == [True, True]
    assert lying(seal) == {"supplier Bus works": -10, "quarantine Quarantine, wrong item": 10}
    assert proved(site)


def test_the_count_that_answers_the_list_is_taken_back_like_any_other(site, shipment, lug):
    received(shipment, counted(lug, 10))
    listed(["LUG", 10, "", None])
    standing = Receipt.objects.of(site).get(posting__reversed_by=None)
    record = Record.objects.of(site).get(event_id=standing.posting.event_id)
    report(site, "reversals", reverses=record.event_id, reason="wrong tap", number=4)
    assert lying(lug) == {}
    assert figures(shipment) == [(0, 0, 0, 0)]
    assert proved(site)


def test_what_is_made_for_a_run_keeps_its_lot(site, shipment):
    plate = site.items.create(code="PLATE", unit="each", usage="fixed", for_run=True)
    received(shipment, counted(plate, 2, lot="NORTH"))
    Kit.objects.of(site).get(name="K1").lines.create(item=plate, quantity=2)
    assert listed(["PLATE", 2, "", "K1"]) == []
    assert lying(plate)["bin Store [NORTH]"] == 2
    assert proved(site)


def test_the_number_of_queries_does_not_grow_with_the_counts(site, shipment, lug):
    def queries(name: str, many: int) -> int:
        keep_one(site=site, kind="shipments_found", row={"id": name, "shipment": name, "at": at(2)})
        truck = Shipment.objects.of(site).get(name=name)
        for number in range(many):
            more = {"again": "further", "lot": f"{name} {number}", "expires": "2027-01-31"}
            received(truck, counted(lug, 2, came_item=lug, **more))
        with CaptureQueriesContext(connection) as found:
            assert told(load({"shipments": [HEADER, [name, "Bus works", "LUG", 90, "", None]]})) == []
        assert delivery_report(truck).unlisted == ()
        return len(found)

    queries("S10", 1)
    assert queries("S11", 2) == queries("S12", 12)


@pytest.mark.parametrize(
    ("instead", "why"),
    [
        ("never", "never is no count of it that waits for its list"),
        ("listed", "listed is no count of it that waits for its list"),
        ("unlisted", "unlisted is of goods that the list does not name"),
    ],
)
def test_what_no_list_has_come_for_is_not_made_anew(site, shipment, lug, instead, why):
    seal = site.items.get(code="SEAL")
    listed(["LUG", 10, "", None])
    received(shipment, counted(lug, 10), event="listed")
    received(shipment, counted(seal, 10), event="unlisted")
    item = seal if instead == "unlisted" else lug
    with pytest.raises(LedgerError, match=why) as refused:
        report(site, "receipts", shipment=shipment, item=item, instead=instead)
    assert refused.value.column == "instead"


def test_a_count_again_that_comes_with_it_replaces_both(site, shipment, lug):
    received(shipment, counted(lug, 10), event="c1")
    PackingLineFactory(shipment=shipment, item=lug, quantity=10)
    sender = member(site, "storekeeper")
    rows = [
        {"id": "c2", "instead": "c1", "at": "2026-03-02T12:00Z"},
        {"id": "c3", "counted": "7", "again": "same", "at": "2026-03-03T12:00Z"},
    ]
    sent = [Sent("receipts", {"shipment": "S9", "item": "LUG", **row}) for row in rows]
    answers = take(site=site, sender=sender, roles=frozenset(["storekeeper"]), sent=sent)
    assert [one.answer for one in answers] == ["kept", "kept"]
    assert (lying(lug)["bin Store"], figures(shipment)) == (7, [(7, 0, 3, 0)])
    assert proved(site)


class AnyOrder(TestCase):
    @settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        st.lists(
            st.tuples(st.integers(0, 9), st.sampled_from(["same", "further"]), st.sampled_from(["crate", "box"])),
            min_size=1,
            max_size=4,
        ),
        st.integers(0, 4),
        st.randoms(use_true_random=False),
    )
    def test_when_its_list_comes_makes_no_difference(self, counts, before, random):
        site = SiteFactory(slug=f"s{Site.objects.count()}")
        lug, _ = ItemFactory(site=site, code="LUG"), SupplierFactory(site=site, name="Bus works")
        keep_one(site=site, kind="shipments_found", row={"id": "f", "shipment": "S9", "at": at(2)})
        truck = {"id": "t", "shipment": "S9", "count": "2", "further": "crate, box", "at": at(2)}
        keep_one(site=site, kind="arrivals", row=truck)
        rows = [
            {"id": f"c{n}", "counted": str(quantity), "at": f"2026-03-02T1{n}:00Z", "again": how, "package": package}
            for n, (quantity, how, package) in enumerate(counts)
        ]
        random.shuffle(rows)
        sender = member(site, "storekeeper", username=f"u{site.slug}")
        for number, row in enumerate([*rows, None]):
            if number == min(before, len(rows)):
                assert listed(["LUG", 10, "crate", None], ["LUG", 10, "box", None], slug=site.slug) == []
            if row:
                sent = Sent("receipts", {"shipment": "S9", "item": "LUG", **row})
                take(site=site, sender=sender, roles=frozenset(["storekeeper"]), sent=[sent])
        expected = {"crate": 0, "box": 0}
        for quantity, how, package in counts:
            expected[package] = quantity + (expected[package] if how == "further" else 0)
        found = delivery_report(Shipment.objects.of(site).get())
        assert found.unlisted == ()
        assert {line.line.package.name: line.report.good // 10_000 for line in found.lines} == expected
        assert lying(lug).get("bin Store", 0) == sum(expected.values())
        assert proved(site)
