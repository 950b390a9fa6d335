"""Writing orders that a sheet tells of."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

from django.db import transaction

from kits.orders.models import Order, OrderLine
from takeoff.sheets.matching import Matched, bulk_save
from takeoff.sites.models import Site


@transaction.atomic
def save_orders(*, site: Site, new: Sequence[Order], changed: Sequence[Order]) -> None:
    """Create orders, and write the supplier, number and state of changed ones."""
    bulk_save(Order.objects.of(site), new=new, changed=changed, fields={"supplier", "po", "state"}, keys=True)


@transaction.atomic
def save_order_lines(*, site: Site, matched: Matched[OrderLine]) -> None:
    """Write lines of orders that are new or changed."""
    rows = OrderLine.objects.of(site)
    bulk_save(rows, new=matched.new, changed=matched.changed, fields=matched.fields)


@transaction.atomic
def note_sent(*, site: Site, orders: Collection[int], on: date) -> None:
    """Take `on` as the day on which lines of these orders were sent, where they are no drafts and nobody told it."""
    sent = OrderLine.objects.of(site).filter(order__in=orders, sent=None).exclude(order__state=Order.State.DRAFT)
    sent.update(sent=on)
