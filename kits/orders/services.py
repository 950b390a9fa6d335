"""Writing orders: their lines, how far they are, and what was done and confirmed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime
from uuid import NAMESPACE_OID, uuid5

from django.db import transaction
from django.utils import timezone

from kits.orders.course.order_steps import NOT_SENT, STEP_OF
from kits.orders.models import Order, OrderDelivery, OrderLine, OrderStep
from takeoff.database.bulk import rewrite
from takeoff.database.locks import lock
from takeoff.people.models import User
from takeoff.records.reported import standing
from takeoff.sites.models import Site

OF_STATE = "state "  # how the id of a step begins that no record told of


@transaction.atomic
def note_sent(*, site: Site, orders: Collection[int], on: date) -> None:
    """Take `on` as the day on which lines of these orders were sent, where they were and nobody told it."""
    sent = OrderLine.objects.of(site).filter(order__in=orders, sent=None).exclude(order__state__in=NOT_SENT)
    sent.update(sent=on)


def state_id(order: int, step: str, at: datetime) -> str:
    """Return the id of a step that no record told of: made of what it says, so that another row cannot pass for one."""
    return f"{OF_STATE}{uuid5(NAMESPACE_OID, f'{order} {step} {at.isoformat()}')}"


@transaction.atomic
def step_to_states(*, orders: Iterable[Order], sender: User | None, note: str = "") -> None:
    """Write the steps that brought these orders to the states that they have, where no record says so."""
    now = timezone.now()
    OrderStep.objects.bulk_create(
        OrderStep(
            order=order,
            step=STEP_OF[order.state].value,
            po=order.po,
            event_id=state_id(order.pk, STEP_OF[order.state].value, now),
            at=now,
            note=note,
            recorded_at=now,
            recorded_by=sender,
        )
        for order in orders
    )


@transaction.atomic
def bring_to(*, site: Site, orders: Collection[int], state: Order.State, note: str) -> None:
    """Bring orders to a state that follows from something else than a record of theirs."""
    found = lock(Order.objects.of(site).filter(pk__in=orders))
    answered = set(standing(OrderDelivery.objects.of(site)).filter(line__order__in=orders).values_list("line__order"))
    for order in found:
        order.state = Order.State.CONFIRMED if state == Order.State.SENT and (order.pk,) in answered else state
    rewrite(Order.objects.of(site), found, ("state",))
    step_to_states(orders=found, sender=None, note=note)


@transaction.atomic
def record_course(
    *,
    site: Site,
    steps: Sequence[OrderStep],
    deliveries: Sequence[OrderDelivery],
    orders: Sequence[Order],
    lines: Sequence[OrderLine],
) -> None:
    """Keep what was done and confirmed, or never was, and bring orders and lines to where that leaves them."""
    OrderStep.objects.bulk_create(steps)
    OrderDelivery.objects.bulk_create(deliveries)
    rewrite(Order.objects.of(site), orders, ("state", "po"))
    rewrite(OrderLine.objects.of(site), lines, ("sent", "rest_cancelled"))
