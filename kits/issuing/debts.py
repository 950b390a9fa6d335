"""
What runs owe each other after borrows. Pure; quantities in whole ticks of one item's unit.

A hand-out to a run that names a lender makes a debt. It is paid when the lender draws the item from anywhere but the
boxes of its own kits: what it then takes stands for what it had lent, the oldest debt first, that of the run which it
names as lender before all others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Draw:
    """A hand-out of one item. lender : the run that lent it, None. own_box : it came from the run's own kit box."""

    event: str
    run: int
    quantity: int
    lender: int | None = None
    own_box: bool = False


@dataclass(frozen=True, slots=True)
class Debt:
    """What `borrower` still owes `lender` of an item from one hand-out."""

    event: str
    borrower: int
    lender: int
    quantity: int


def open_debts(draws: Iterable[Draw]) -> list[Debt]:
    """Return the debts that are left after `draws`, given in the order in which they happened."""
    debts: list[Debt] = []
    for draw in draws:
        rest = draw.quantity
        if not draw.own_box:
            debts, rest = _pay(debts, draw)
        if draw.lender is not None and rest:
            debts.append(Debt(draw.event, draw.run, draw.lender, rest))
    return debts


def _pay(debts: list[Debt], draw: Draw) -> tuple[list[Debt], int]:
    """Return the debts left after `draw` paid what its run had lent, and what of the draw paid no debt."""
    rest = draw.quantity
    left: dict[int, Debt | None] = {}
    named_first = sorted(range(len(debts)), key=lambda n: debts[n].borrower != draw.lender)
    for number in named_first:
        debt = debts[number]
        if debt.lender != draw.run or not rest:
            continue
        paid = min(rest, debt.quantity)
        rest -= paid
        open_ = debt.quantity - paid
        left[number] = Debt(debt.event, debt.borrower, debt.lender, open_) if open_ else None
    kept = [left.get(number, debt) for number, debt in enumerate(debts)]
    return [debt for debt in kept if debt], rest
