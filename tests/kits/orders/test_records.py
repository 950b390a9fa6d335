"""Orders: asked for, sent, confirmed in parts, chased, re-dated, cancelled, closed, and each taken back."""

from datetime import date

import pytest

from kits.audit.proofs import prove_site
from kits.models import Order, OrderDelivery, OrderStep
from kits.shortages.queries import reconcile
from takeoff.models import Record, Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.records.terms.errors import AskFirstError, RecordError
from tests.factories.kits import OrderFactory, OrderLineFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import CableFactory, ItemFactory, RunFactory, SiteFactory, member
from tests.kits.makers import at, event_id

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(monkeypatch) -> Site:
    monkeypatch.setattr(Site, "today", lambda _: date(2026, 3, 10))
    return SiteFactory(slug="here")


@pytest.fixture
def order(site) -> Order:
    order = OrderFactory(site=site, name="PO-1", state="draft")
    OrderLineFactory(order=order, item=ItemFactory(site=site, code="LUG"), quantity=100)
    OrderLineFactory(order=order, item=ItemFactory(site=site, code="CAP"), quantity=40)
    return order


def step(order, said, number=4, **row) -> OrderStep:
    row = {"id": event_id(), "order": order, "step": said, "at": at(number), **row}
    keep_one(site=order.site, kind="order_steps", row=row)
    order.refresh_from_db()
    return OrderStep.objects.get(event_id=row["id"])


def reply(order, item, confirmed, arrives=None, number=5, confirm="", **row) -> str:
    row = {"id": event_id(), "order": order, "item": item, "quantity": confirmed, "at": at(number), **row}
    row |= {"arrives": arrives} if arrives else {}
    keep_one(site=order.site, kind="replies", row={"how": "mail"} | row, confirmed=confirm)
    order.refresh_from_db()
    return row["id"]


def take_back(order, id_, number=9):
    row = {"id": event_id(), "reverses": id_, "reason": "wrong tap", "at": at(number)}
    keep_one(site=order.site, kind="reversals", row=row)
    order.refresh_from_db()


def coming(site, code) -> list[tuple[int, date | None, bool]]:
    """What is still to come of an item: quantity, day, whether the supplier left it open."""
    line = next(line for line in reconcile(site).lines if line.item.code == code)
    assert line.inbound == sum(one.quantity for one in line.deliveries)
    return [(one.quantity // 10_000, one.on, one.unconfirmed) for one in line.deliveries]


def test_it_is_asked_for_sent_and_closed_each_with_who_and_when(site, order):
    step(order, "asked for", 3, whom="the office")
    assert (order.state, coming(site, "LUG")) == ("asked for", [])
    sent = step(order, "sent", 4, po="QM-7", by="Ada")
    assert (order.state, order.po, sent.revision, sent.by) == ("sent", "QM-7", 1, "Ada")
    assert {line.sent for line in order.lines.all()} == {date(2026, 3, 4)}
    assert coming(site, "LUG") == [(100, None, False)]
    assert step(order, "sent", 5).revision == 2
    assert (order.state, order.po) == ("sent", "QM-7")
    step(order, "closed", 6)
    assert (order.state, coming(site, "LUG")) == ("closed", [])
    with pytest.raises(RecordError, match="PO-1 is closed: take that back first"):
        step(order, "sent", 7)


def test_all_as_ordered_confirms_every_line_for_one_day(site, order):
    step(order, "sent")
    step(order, "confirmed", 5, expected="2026-03-20", how="phone", whom="Bo")
    assert order.state == "confirmed"
    assert coming(site, "LUG") == [(100, date(2026, 3, 20), False)]
    assert coming(site, "CAP") == [(40, date(2026, 3, 20), False)]
    assert {(row.how, row.said_by) for row in OrderDelivery.objects.of(site)} == {("phone", "Bo")}


def test_a_reply_in_parts_adds_up_and_the_last_one_counts(site, order):
    lug, _cap = (line.item for line in order.lines.order_by("pk"))
    step(order, "sent")
    first = {"reply": "R-1"}
    reply(order, lug, 30, "2026-03-20", **first)
    reply(order, lug, 50, "2026-03-12", **first)
    assert coming(site, "LUG") == [(50, date(2026, 3, 12), False), (30, date(2026, 3, 20), False), (20, None, True)]
    assert coming(site, "CAP") == [(40, None, False)], "nobody answered for it: no more than an order without a day"
    again = reply(order, lug, 100, "2026-03-25", 6)
    assert coming(site, "LUG") == [(100, date(2026, 3, 25), False)]
    take_back(order, again)
    assert coming(site, "LUG")[0] == (50, date(2026, 3, 12), False)


def test_what_is_shipped_is_of_the_earliest_delivery(site, order):
    lug, _cap = (line.item for line in order.lines.order_by("pk"))
    step(order, "sent")
    for quantity, day in ((30, "2026-03-20"), (50, "2026-03-12")):
        reply(order, lug, quantity, day, reply="R-1")
    shipment = ShipmentFactory(site=site, name="S-1", expected=date(2026, 3, 12))
    PackingLineFactory(shipment=shipment, item=lug, quantity=60, order=order)
    assert coming(site, "LUG") == [(60, date(2026, 3, 12), False), (20, date(2026, 3, 20), False), (20, None, True)]


def test_more_than_was_asked_for_is_asked_about_and_then_counts_as_ordered(site, order):
    lug, _cap = (line.item for line in order.lines.order_by("pk"))
    step(order, "sent")
    with pytest.raises(AskFirstError, match="asks for 100 of LUG, and 120 are confirmed") as asked:
        reply(order, lug, 120, "2026-03-20")
    assert order.state == "sent"
    kept = reply(order, lug, 120, "2026-03-20", confirm=asked.value.question)
    line = next(line for line in reconcile(site).lines if line.item.code == "LUG")
    assert (line.inbound, line.ordered) == (1_200_000, 1_200_000)
    take_back(order, kept)
    assert (order.state, coming(site, "LUG")) == ("sent", [(100, None, False)])


def test_a_new_day_moves_what_was_confirmed(site, order):
    lug, _cap = (line.item for line in order.lines.order_by("pk"))
    step(order, "sent")
    reply(order, lug, 80, "2026-03-20")
    moved = step(order, "re-dated", 6, expected="2026-04-01", item=lug)
    assert coming(site, "LUG") == [(80, date(2026, 4, 1), False), (20, None, True)]
    assert coming(site, "CAP") == [(40, None, False)]
    take_back(order, moved.event_id)
    assert coming(site, "LUG")[0] == (80, date(2026, 3, 20), False)


def test_the_rest_of_a_line_is_cancelled_and_let_live_again(site, order):
    lug, _cap = (line.item for line in order.lines.order_by("pk"))
    step(order, "sent")
    PackingLineFactory(shipment=ShipmentFactory(site=site, name="S-1"), item=lug, quantity=60, order=order)
    gone = step(order, "rest cancelled", 5, item=lug)
    line = next(line for line in reconcile(site).lines if line.item.code == "LUG")
    assert (order.state, line.ordered, line.inbound) == ("sent", 600_000, 600_000)
    assert coming(site, "CAP") == [(40, None, False)]
    take_back(order, gone.event_id)
    assert sorted(quantity for quantity, _, _ in coming(site, "LUG")) == [40, 60]
    step(order, "rest cancelled", 6)
    assert (order.state, coming(site, "CAP")) == ("cancelled", [])


def test_sending_is_taken_back_while_nothing_hangs_on_it(site, order):
    lug, _cap = (line.item for line in order.lines.order_by("pk"))
    sent = step(order, "sent", po="QM-7")
    answered = reply(order, lug, 1)
    with pytest.raises(RecordError, match="Something was done about PO-1 since"):
        take_back(order, sent.event_id)
    take_back(order, answered)
    take_back(order, sent.event_id)
    assert (order.state, order.po, {line.sent for line in order.lines.all()}) == ("draft", "", {None})
    with pytest.raises(RecordError, match="was taken back before"):
        take_back(order, sent.event_id)
    assert step(order, "sent", 6).revision == 2, "the supplier has seen the first"


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ({"step": "confirmed", "how": "mail"}, "was not sent yet"),
        ({"step": "drafted"}, "was drafted before"),
        ({"step": "rest cancelled", "item": "LUG"}, "take the line out of the draft"),
        ({"step": "sent", "item": "LUG"}, "is of the whole order"),
        ({"step": "rest cancelled", "item": "OTHER"}, "has no such line"),
        ({"step": "part received"}, "Expected one of"),
    ],
)
def test_what_a_draft_does_not_take(site, order, row, why):
    ItemFactory(site=site, code="OTHER")
    with pytest.raises(RecordError, match=why):
        step(order, row.pop("step"), **row)
    assert OrderStep.objects.of(site).count() == 1


def test_a_confirmation_says_how_it_came_and_counts_whole_pieces(site, order):
    lug, _cap = (line.item for line in order.lines.order_by("pk"))
    step(order, "sent")
    with pytest.raises(RecordError, match="Say how they confirmed it"):
        step(order, "confirmed")
    with pytest.raises(RecordError, match="whole pieces"):
        reply(order, lug, "1.5")
    with pytest.raises(RecordError, match="at most 2 decimal places"):
        reply(order, lug, "1", price="1.005")


def test_a_line_is_named_by_its_run_where_several_have_the_item(site, order):
    plate = ItemFactory(site=site, code="PLATE", for_run=True)
    for name in ("CB-1", "CB-2"):
        OrderLineFactory(order=order, item=plate, run=RunFactory(site=site, name=name), quantity=2)
    step(order, "sent")
    with pytest.raises(RecordError, match="several such lines"):
        reply(order, plate, 1)
    reply(order, plate, 1, "2026-03-20", run="CB-2")
    assert OrderDelivery.objects.of(site).get().line.run.name == "CB-2"


def test_reels_of_cable_are_confirmed_in_parts(site, order):
    cable = CableFactory(site=site, code="C-500")
    OrderLineFactory(order=order, item=None, cable=cable, reel_length=304_800, quantity=3)
    step(order, "sent")
    row = {"id": "r", "order": "PO-1", "cable": "C-500", "quantity": 2, "arrives": "2026-03-20", "how": "mail"}
    keep_one(site=site, kind="replies", row=row | {"at": at(5)})
    (line,) = reconcile(site).cables
    assert [(one.count, one.on) for one in line.on_order] == [(2, date(2026, 3, 20)), (1, None)]


def test_replayed_records_change_nothing(site, order):
    sent = [
        Sent("order_steps", {"id": "s", "order": "PO-1", "step": "sent", "at": at(4).isoformat()}),
        Sent(
            "replies",
            {
                "id": "r",
                "order": "PO-1",
                "item": "LUG",
                "quantity": "70",
                "how": "phone",
                "arrives": "2026-03-20",
                "at": at(5).isoformat(),
            },
        ),
    ]
    by = member(site, "purchaser")
    first = take(site=site, sender=by, roles=frozenset({"purchaser"}), sent=sent)
    assert [answer.answer for answer in first] == ["kept", "kept"]
    before = coming(site, "LUG")
    again = take(site=site, sender=by, roles=frozenset({"purchaser"}), sent=sent)
    assert [answer.answer for answer in again] == ["known", "known"]
    assert coming(site, "LUG") == before == [(70, date(2026, 3, 20), False), (30, None, True)]
    assert all(proof.holds for proof in prove_site(site))


def test_who_may_not_order_has_it_set_aside(site, order):
    by = member(site, "storekeeper")
    sent = [Sent("order_steps", {"id": "s", "order": "PO-1", "step": "sent", "at": at(4).isoformat()})]
    (answer,) = take(site=site, sender=by, roles=frozenset({"storekeeper"}), sent=sent)
    order.refresh_from_db()
    assert (answer.answer, order.state, Record.objects.of(site).get().answer) == ("aside", "draft", "aside")
