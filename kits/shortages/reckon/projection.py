"""
What will be on hand, day by day: deliveries first, then needs, first expired first.

Quantities are whole ticks of one item's unit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from kits.shortages.reckon.lines import BalanceStep, Delivery, TooLate


@dataclass(frozen=True, slots=True)
class LotStock:
    """Good stock of one lot. `expires`: the last day it can be used, None when it keeps."""

    quantity: int
    expires: date | None = None


@dataclass(frozen=True, slots=True)
class Dated:
    """A quantity that comes or is needed on a day; None when nobody said on which."""

    quantity: int
    on: date | None


@dataclass(frozen=True, slots=True)
class Projection:
    """`short`: the deepest point below zero. `short_on`: the first day below zero."""

    short: int
    short_on: date | None
    steps: tuple[BalanceStep, ...]


def usable(lots: Iterable[LotStock], as_of: date) -> int:
    """Return what can still be used on `as_of`; a lot can be used through its last day."""
    return sum(lot.quantity for lot in lots if lot.expires is None or lot.expires >= as_of)


def project(as_of: date, lots: Sequence[LotStock], deliveries: Iterable[Dated], needs: Iterable[Dated]) -> Projection:
    """
    Walk the days from `as_of` on.

    lots : good stock on that day; lots already past their last day count for nothing.
    deliveries : an overdue one counts on `as_of`, an undated one never. It is taken to keep: its lot is not known yet.
    needs : overdue and undated ones count on `as_of`. What a day lacks is owed and served by later deliveries.
    Returns the deepest point, its first day below zero, and a step for each day on which something happens.
    """
    stock: dict[date, int] = defaultdict(int)
    for lot in lots:
        if lot.quantity and (lot.expires is None or lot.expires >= as_of):
            stock[lot.expires or date.max] += lot.quantity
    coming: dict[date, int] = defaultdict(int)
    for delivery in deliveries:
        if delivery.on is not None:
            coming[max(as_of, delivery.on)] += delivery.quantity
    wanted: dict[date, int] = defaultdict(int)
    for need in needs:
        wanted[as_of if need.on is None else max(as_of, need.on)] += need.quantity

    drops = {expires + timedelta(days=1) for expires in stock if expires < date.max}
    owed = 0
    deepest, first_below = 0, None
    steps = []
    for day in sorted({as_of, *coming, *wanted, *drops}):
        expired = sum(stock.pop(expires) for expires in sorted(stock) if expires < day)
        stock[date.max] += coming[day]
        owed += wanted[day]
        for expires in sorted(stock):
            served = min(owed, stock[expires])
            stock[expires] -= served
            owed -= served
        balance = sum(stock.values()) - owed
        if balance < 0 and first_below is None:
            first_below = day
        deepest = min(deepest, balance)
        if day == as_of or coming[day] or wanted[day] or expired:
            steps.append(BalanceStep(day, delivered=coming[day], needed=wanted[day], expired=expired, balance=balance))
    return Projection(short=-deepest, short_on=first_below, steps=tuple(steps))


def too_late(walk: Projection, deliveries: Sequence[Delivery]) -> tuple[TooLate, ...]:
    """
    Return the deliveries to hurry when all that is short is on the way, only later than it is needed.

    Empty when nothing is short, and when something would still be missing after the last delivery, undated ones
    included: what lots that expire take away no delivery brings back.
    """
    undated = sum(delivery.quantity for delivery in deliveries if delivery.on is None)
    if not walk.short or walk.steps[-1].balance + undated < 0:
        return ()
    since: date | None = None
    waiting: dict[date, date] = {}
    for step in walk.steps:
        if since is not None and step.delivered:
            waiting[step.day] = since
        since = None if step.balance >= 0 else since or step.day
    late = []
    for one in deliveries:
        start = since if one.on is None else waiting.get(one.on)
        if start is not None:
            late.append(TooLate(one.kind, one.name, one.on, start, None if one.on is None else (one.on - start).days))
    return tuple(late)


def order_by(short_on: date | None, *, buffer_days: int, lead_days: int) -> date | None:
    """Return the last day to order for what is missing on `short_on`: less the site's buffer and the lead time."""
    return None if short_on is None else short_on - timedelta(days=buffer_days + lead_days)
