"""Whatever is done about an order, in whatever order it is told: inbound is never below 0, and the causes add up."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kits.models import Order, OrderLine
from kits.shortages.queries import reconcile
from takeoff.records.decoding import Sent
from takeoff.records.services import take
from tests.factories.kits import OrderFactory, OrderLineFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, member
from tests.kits.makers import at
from tests.lock_order import undone

pytestmark = pytest.mark.django_db
ROLES = frozenset({"planner"})

STEPS = ("asked for", "sent", "confirmed", "chased", "re-dated", "rest cancelled", "closed")
acts = st.lists(
    st.tuples(
        st.sampled_from((*STEPS, "line cancelled", "line re-dated", "reply", "reply", "ship", "receive", "undo")),
        st.integers(0, 1),  # which item
        st.integers(0, 60),  # how many
        st.integers(1, 28),  # which day of March
    ),
    max_size=14,
)


def row_of(number: int, act: tuple) -> Sent | None:
    """The record that says an act, if it is one."""
    name, which, quantity, day = act
    item, when = f"I{which}", at(2, number % 24).isoformat()
    row = {"id": f"e{number}", "at": when, "order": "PO-1"}
    if name == "reply":
        row |= {"item": item, "quantity": str(quantity), "how": "mail", "reply": f"R{number // 3}"}
        return Sent("replies", row | ({"arrives": f"2026-03-{day:02}"} if day > 3 else {}))
    if name == "undo":
        return Sent("reversals", {"id": f"e{number}", "at": when, "reverses": f"e{quantity % 14}", "reason": "wrong"})
    if name == "receive":
        row = {"id": f"e{number}", "at": when, "shipment": "S-1", "item": item, "counted": str(quantity), "part": "yes"}
        return Sent("receipts", row | {"bin": "A"})
    said = {"line cancelled": "rest cancelled", "line re-dated": "re-dated"}.get(name, name)
    row |= {"step": said, "how": "phone"} | ({"item": item} if said != name else {})
    return Sent(
        "order_steps", row | ({"expected": f"2026-03-{day:02}"} if "date" in said or said == "confirmed" else {})
    )


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(history=acts)
def test_inbound_is_never_below_nothing_and_the_causes_add_up(history):
    with undone():
        site = SiteFactory()
        sender = member(site, "planner")
        order = OrderFactory(site=site, name="PO-1", state="draft")
        items = [ItemFactory(site=site, code=f"I{number}") for number in range(2)]
        for item in items:
            OrderLineFactory(order=order, item=item, quantity=50)
        shipment = ShipmentFactory(site=site, name="S-1")
        sent, shipped = [], dict.fromkeys(items, 0)
        for number, act in enumerate(history):
            if act[0] == "ship":
                line = shipment.lines.filter(item=items[act[1]]).first()
                if line is None and act[2]:
                    PackingLineFactory(shipment=shipment, item=items[act[1]], quantity=act[2], order=order)
                    shipped[items[act[1]]] = act[2]
                continue
            sent.append(row_of(number, act))
            take(site=site, sender=sender, roles=ROLES, sent=[sent[-1]])
        lines = reconcile(site, date(2026, 3, 20)).lines
        for line in lines:
            item = next(item for item in items if item.pk == line.item.id)
            mine = OrderLine.objects.of(site).get(item=item)
            state = Order.State(Order.objects.of(site).get().state)
            on_order = sum(one.quantity for one in line.deliveries if one.kind == "order")
            confirmed = Decimal(line.ordered) / 10_000 if state.is_open else 0
            if state.is_open and not mine.rest_cancelled:
                assert on_order == max(0, (max(50, confirmed) - shipped[item]) * 10_000)
            else:
                assert on_order == 0
            assert line.inbound == sum(one.quantity for one in line.deliveries) >= 0
            assert sum(line.causes.values()) == line.need - line.usable - line.inbound
        again = take(site=site, sender=sender, roles=ROLES, sent=sent)
        assert {answer.answer for answer in again} <= {"known", "refused"}
        assert reconcile(site, date(2026, 3, 20)).lines == lines
