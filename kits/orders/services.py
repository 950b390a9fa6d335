"""Writing orders that a sheet tells of."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from django.db import transaction

from kits.orders.models import Order, OrderLine
from takeoff.sites.models import Site


@transaction.atomic
def note_sent(*, site: Site, orders: Collection[int], on: date) -> None:
    """Take `on` as the day on which lines of these orders were sent, where they are no drafts and nobody told it."""
    sent = OrderLine.objects.of(site).filter(order__in=orders, sent=None).exclude(order__state=Order.State.DRAFT)
    sent.update(sent=on)
