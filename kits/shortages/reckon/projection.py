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
    """
    Good stock of one lot. `expires`: the last day it can be used, None when it keeps.

    fits : the runs that it was made for, None for every run.
    """

    quantity: int
    expires: date | None = None
    fits: frozenset[int] | None = None


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


def all_here(as_of: date, lots: Sequence[LotStock], deliveries: Iterable[Dated], needs: Iterable[Dated]) -> Projection:
    """Walk the days with every delivery here on `as_of`, undated and late ones included: what it lacks is to order."""
    return project(as_of, lots, [Dated(one.quantity, as_of) for one in deliveries], needs)


def expedite(as_it_stands: Projection, here: Projection) -> int:
    """
    Return the most, over the days, by which one walk lies further below zero than the other. [ticks]

    That is what deliveries bring that come too late or on no day: it is to come sooner, not to be ordered again.
    """
    return max(lag for _, lag in _lags(as_it_stands, here))


def too_late(as_it_stands: Projection, here: Projection, deliveries: Sequence[Delivery]) -> tuple[TooLate, ...]:
    """
    Return the deliveries to expedite: those that something waits for on the day before they come.

    since : the first day of those in a row on which `as_it_stands` lies further below zero than `here`.
    """
    since: date | None = None
    begun: list[tuple[date, date | None]] = []  # by day, since when something waits at its end
    for day, lag in _lags(as_it_stands, here):
        since = (since or day) if lag else None
        begun.append((day, since))
    late = []
    for one in deliveries:
        before = [start for day, start in begun if one.on is None or day < one.on]
        start = before[-1] if before else None
        if start is not None:
            days = None if one.on is None else (one.on - start).days
            late.append(TooLate(one.kind, one.name, one.quantity, one.on, start, days, one.no_answer, one.sent))
    return tuple(late)


def _lags(as_it_stands: Projection, here: Projection) -> list[tuple[date, int]]:
    """Return for each day on which either walk changes how much further below zero the first one lies at its end."""
    stands, there = ({step.day: step.balance for step in walk.steps} for walk in (as_it_stands, here))
    low, least = 0, 0
    lags = []
    for day in sorted({*stands, *there}):
        low, least = stands.get(day, low), there.get(day, least)
        lags.append((day, max(0, -low) - max(0, -least)))
    return lags
