"""Claims: opened by their first step, followed, settled, taken back."""

from datetime import date

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from kits.audit.proofs import prove_site
from kits.claims.queries import claims_of, still_open
from kits.models import Arrival, Claim, ClaimStep, Order, OrderLine, PackingLine
from kits.receiving.queries import delivery_report
from kits.shortages.queries import reconcile
from takeoff.models import Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.records.terms.errors import RecordError
from tests.factories.kits import KitFactory, OrderFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, member
from tests.kits.makers import at, counted, event_id, received, reverse

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(monkeypatch) -> Site:
    monkeypatch.setattr(Site, "today", lambda _: date(2026, 3, 5))
    return SiteFactory(slug="here")


@pytest.fixture
def shipment(site):
    shipment = ShipmentFactory(site=site, name="S-1")
    for code in ("LUG", "CAP", "BAND"):
        PackingLineFactory(shipment=shipment, item=ItemFactory(site=site, code=code), quantity=10)
    return shipment


def items(shipment):
    return [line.item for line in shipment.lines.order_by("pk").select_related("item")]


def truck(shipment, name, number=2, **row):
    row = {"id": name, "shipment": shipment, "count": "0", "at": at(number, 8), **row}
    keep_one(site=shipment.site, kind="arrivals", row=row)
    return Arrival.objects.get(event_id=name)


def step(shipment, said, number=4, **row) -> ClaimStep:
    row = {"id": event_id(), "shipment": shipment, "step": said, "at": at(number), **row}
    keep_one(site=shipment.site, kind="claim_steps", row=row)
    return ClaimStep.objects.get(event_id=row["id"])


def take_back(one: ClaimStep, number=5):
    row = {"id": event_id(), "reverses": one.event_id, "reason": "wrong tap", "at": at(number)}
    keep_one(site=one.claim.shipment.site, kind="reversals", row=row)


def asked(claim: Claim) -> list[tuple[str, int, int, int]]:
    lines = claim.lines.order_by("pk").select_related("packing_line__item")
    return [(line.packing_line.item.code, *map(int, (line.short, line.damaged, line.refused))) for line in lines]


def test_two_trucks_of_one_shipment_have_clocks_of_their_own(site, shipment):
    """5 business days from Monday 2 and Thursday 5 March, the 6th a holiday: Tuesday 10 and Friday 13 March."""
    lug, cap, _ = items(shipment)
    site.holidays = ["2026-03-06"]
    site.save()
    first = truck(shipment, "T1", 2)
    received(shipment, counted(lug, 3, condition="damaged", partial=True), number=3)
    second = truck(shipment, "T2", 5)
    received(shipment, counted(lug, 5), counted(cap, 9), number=6)
    shipment.refresh_from_db()
    report = delivery_report(shipment)
    assert [one.arrival for one in report.trucks] == [first, second]
    assert [str(one.dates.concealed) for one in report.trucks] == ["2026-03-10", "2026-03-13"]
    assert [str(one.dates.claim) for one in report.trucks] == ["2026-12-02", "2026-12-05"]
    found = [{line.item.code: (each.damaged, each.short) for line, each in one.found} for one in report.trucks]
    assert found == [{"LUG": (30_000, 0)}, {"LUG": (0, 20_000), "CAP": (0, 10_000)}]
    _claims, left = still_open(site)
    assert [(str(one.truck.arrival), one.what) for one in left] == [
        ("T1", [("damaged", 1)]),
        ("T2", [("short", 2)]),
    ]


def test_a_truck_that_nobody_saw_counts_from_the_earliest_it_can_have_come(site, shipment):
    truck(shipment, "T1", 5, not_before=at(3, 20))
    assert delivery_report(shipment).trucks[0].delivered == date(2026, 3, 3)


def test_the_first_step_opens_a_claim_for_what_the_report_says_then(site, shipment):
    lug, cap, band = items(shipment)
    truck(shipment, "T1")
    received(shipment, counted(lug, 7), counted(cap, 2, condition="damaged", partial=True), counted(cap, 8))
    claim = step(shipment, "told the carrier").claim
    assert (claim.number, claim.arrival.event_id) == (1, "T1")
    assert asked(claim) == [("LUG", 3, 0, 0), ("CAP", 0, 2, 0)]
    received(shipment, counted(band, 6), number=4)
    assert asked(claim) == [("LUG", 3, 0, 0), ("CAP", 0, 2, 0)], "what is found later is another claim's"
    (file,), (left,) = still_open(site)
    assert (file.claim, file.next.what) == (claim, "File the claim")
    assert (left.number, [line.item.code for line, _ in left.lines]) == (2, ["BAND"])
    assert step(shipment, "filed", claim="2").claim != claim
    assert not still_open(site)[1]
    assert all(proof.holds for proof in prove_site(site))


def test_goods_that_no_list_names_and_too_many_are_no_claim(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 12), counted(ItemFactory(site=site, code="EXTRA"), 3))
    assert still_open(site) == ([], [])
    with pytest.raises(RecordError, match="Nothing of S-1 is left to claim"):
        step(shipment, "filed")
    assert not Claim.objects.of(site).exists()


def test_without_a_truck_the_first_count_stands_for_it(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7))
    claim = step(shipment, "told the carrier").claim
    assert claim.arrival is None
    truck(shipment, "T1", 1)
    (file,), left = still_open(site)
    assert (file.delivered, left) == (date(2026, 3, 1), []), "it was recorded later, and the clock is its own"


def test_with_several_trucks_the_first_step_says_of_which(site, shipment):
    lug, cap, _ = items(shipment)
    truck(shipment, "T1", 2)
    received(shipment, counted(lug, 10, condition="damaged"), number=3)
    truck(shipment, "T2", 4)
    received(shipment, counted(cap, 9), number=4)
    with pytest.raises(RecordError, match="several trucks") as error:
        step(shipment, "filed")
    assert (error.value.column, error.value.expected) == ("arrival", "a truck's id: T1, T2")
    with pytest.raises(RecordError, match="from that truck"):
        step(shipment, "filed", arrival="T9")
    assert asked(step(shipment, "filed", arrival="T1").claim) == [("LUG", 0, 10, 0)]


def test_a_claim_stays_until_it_is_settled_or_dropped(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7))
    for said in ("told the carrier", "filed", "acknowledged", "declined"):
        step(shipment, said)
        assert len(still_open(site)[0]) == 1, said
    step(shipment, "dropped")
    assert still_open(site) == ([], [])
    with pytest.raises(RecordError, match="is over: dropped"):
        step(shipment, "filed")


def test_an_amount_is_of_what_was_settled_and_in_the_sites_money(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7))
    step(shipment, "filed", reference="CL-77")
    for said, amount in (("acknowledged", "5"), ("settled by credit", "1.005")):
        with pytest.raises(RecordError) as error:
            step(shipment, said, amount=amount)
        assert error.value.column == "amount"
    settled = step(shipment, "settled by credit", amount="12.5")
    assert (settled.amount, settled.claim.steps.count()) == (1250, 2)
    with transaction.atomic(), pytest.raises(IntegrityError):
        ClaimStep.objects.of(site).filter(pk=settled.pk).update(amount=1)
    with transaction.atomic(), pytest.raises(IntegrityError):
        ClaimStep.objects.create(claim=settled.claim, event_id="x", step="filed", amount=1, at=at(5), recorded_at=at(5))


def test_steps_are_taken_back_the_opening_one_last(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7))
    told, filed = step(shipment, "told the carrier"), step(shipment, "filed")
    with pytest.raises(RecordError, match="take back its later steps first"):
        take_back(told)
    take_back(filed)
    with pytest.raises(RecordError, match="taken back before"):
        take_back(filed)
    assert still_open(site)[0][0].next.what == "File the claim"
    take_back(told)
    assert not claims_of(site).exists()
    assert still_open(site)[1][0].number == 2, "it can be claimed again, and a number is used once"
    with pytest.raises(RecordError, match="next number"):
        step(shipment, "filed")
    assert step(shipment, "filed", claim="2").claim.lines.count() == 1


def test_a_replacement_is_ordered_free_and_is_no_promise_of_the_supplier(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7), counted(lug, 1, condition="damaged", again="further"))
    before = {line.item.code: line for line in reconcile(site).lines}["LUG"]
    settled = step(shipment, "settled by replacement")
    (line,) = OrderLine.objects.of(site)
    assert (line.order.supplier, line.kind, line.claim) == (shipment.supplier, "no charge", settled.claim)
    assert (line.item, int(line.quantity), line.sent) == (lug, 3, date(2026, 3, 4))
    after = {line.item.code: line for line in reconcile(site).lines}["LUG"]
    assert after.inbound - before.inbound == 30_000
    assert after.causes["not_shipped"] == before.causes["not_shipped"]
    sent = ShipmentFactory(site=site, name="S-2")
    PackingLineFactory(shipment=sent, item=lug, quantity=3, order=line.order)
    sent_off = {line.item.code: line for line in reconcile(site).lines}["LUG"]
    assert (sent_off.inbound, sent_off.causes["not_shipped"]) == (after.inbound, before.causes["not_shipped"])
    with pytest.raises(RecordError, match="on a packing list"):
        take_back(settled)
    assert all(proof.holds for proof in prove_site(site))


def test_a_replacement_that_never_was_is_withdrawn_and_can_be_settled_otherwise(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7))
    step(shipment, "filed")
    take_back(step(shipment, "settled by replacement"))
    assert Order.objects.of(site).get().state == "cancelled"
    again = step(shipment, "settled by replacement")
    assert Order.objects.of(site).get().state == "sent"
    take_back(again, 6)
    assert [step.step for step in Order.objects.of(site).get().steps.order_by("pk")] == [
        "sent", "rest cancelled", "sent", "rest cancelled"
    ]  # fmt: skip
    step(shipment, "settled by credit", amount="9")
    assert still_open(site) == ([], [])


def test_an_order_of_the_name_of_a_replacement_is_left_alone(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7))
    OrderFactory(site=site, name="S-1 claim 1", supplier=shipment.supplier)
    with pytest.raises(RecordError, match="There is an order S-1 claim 1 already"):
        step(shipment, "settled by replacement")


def test_what_is_made_for_a_run_is_ordered_for_that_run(site, shipment):
    run = RunFactory(site=site, name="CB-1")
    plate = ItemFactory(site=site, code="PLATE", for_run=True)
    PackingLineFactory(shipment=shipment, item=plate, quantity=2, kit=KitFactory(site=site, name="K-1", run=run))
    received(shipment, counted(plate, 1))
    step(shipment, "settled by replacement")
    assert OrderLine.objects.of(site).get().run == run


def test_nobody_replaces_what_nobody_is_known_to_have_sent(site):
    keep_one(site=site, kind="shipments_found", row={"id": "f", "shipment": "S-9", "at": at(2)})
    found = site.shipments.get(name="S-9")
    PackingLineFactory(shipment=found, item=ItemFactory(site=site, code="LUG"), quantity=4)
    received(found, counted("LUG", 3))
    with pytest.raises(RecordError, match="Nobody said who sent S-9"):
        step(found, "settled by replacement")
    assert not Claim.objects.of(site).exists()


def test_a_count_taken_back_leaves_the_claim_as_it_was_made(site, shipment):
    lug, *_ = items(shipment)
    posting = received(shipment, counted(lug, 7)).posting
    claim = step(shipment, "filed").claim
    reverse(site=site, event_id=event_id(), posting=posting, at=at(5), reason="miscounted")
    (file,), left = still_open(site)
    assert (file.claim, file.delivered, left) == (claim, date(2026, 3, 4), [])


def test_a_queue_sends_it_all_and_in_one_go(site, shipment):
    """A truck, its count, two steps and one that is taken back: each is held against what came before it."""
    user = member(site, "storekeeper")
    rows = [
        ("arrivals", {"id": "T1", "shipment": "S-1", "count": "0", "at": at(2, 8)}),
        ("receipts", {"id": "r", "shipment": "S-1", "item": "LUG", "counted": "7", "at": at(2, 9)}),
        ("claim_steps", {"id": "a", "shipment": "S-1", "step": "told the carrier", "at": at(3)}),
        ("claim_steps", {"id": "b", "shipment": "S-1", "step": "dropped", "at": at(3, 13)}),
        ("reversals", {"id": "c", "reverses": "b", "reason": "wrong tap", "at": at(3, 14)}),
        ("claim_steps", {"id": "d", "shipment": "S-1", "step": "filed", "at": at(3, 15)}),
    ]
    sent = [Sent(kind, {**row, "at": row["at"].isoformat()}) for kind, row in rows]
    for answer in ("kept", "known"):
        answers = take(site=site, sender=user, roles=frozenset({"storekeeper"}), sent=sent)
        assert [one.answer for one in answers] == [answer] * 6
    assert [one.step for one in still_open(site)[0][0].steps] == ["told the carrier", "filed"]


def test_a_foreman_may_not(site, shipment):
    lug, *_ = items(shipment)
    received(shipment, counted(lug, 7))
    sent = [Sent("claim_steps", {"id": "a", "shipment": "S-1", "step": "filed", "at": at(3).isoformat()})]
    for role, answer in (("foreman", "aside"), ("viewer", "known")):
        (one,) = take(site=site, sender=member(site, role), roles=frozenset({role}), sent=sent)
        assert one.answer == answer


def test_records_of_many_claims_take_as_many_queries_as_of_few(site):
    user = member(site, "planner")

    def asked_for(number: int) -> int:
        sent = []
        for n in range(number):
            shipment = ShipmentFactory(site=site, name=f"Z{number}-{n}")
            item = ItemFactory(site=site, code=f"I{number}-{n}")
            PackingLineFactory(shipment=shipment, item=item, quantity=4)
            received(shipment, counted(item, 3))
            row = {"shipment": shipment.name, "at": at(4).isoformat()}
            for m, said in enumerate(("filed", "settled by replacement")):
                sent.append(Sent("claim_steps", {**row, "id": f"c{number}-{n}-{m}", "step": said}))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            take(site=site, sender=user, roles=frozenset({"planner"}), sent=sent)
        assert OrderLine.objects.of(site).filter(claim__shipment__name__startswith=f"Z{number}-").count() == number
        return len(queries)

    assert asked_for(2) == asked_for(8)
    assert not PackingLine.objects.of(site).filter(order__isnull=False).exists()
