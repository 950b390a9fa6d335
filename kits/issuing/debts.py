"""
What runs owe each other after borrows. Pure; quantities in ticks of one item's unit.

A hand-out to a run that names a lender makes a debt. It is paid when the lender draws the item from anywhere but the
boxes of its own kits: what it then takes stands for what it had lent, the oldest debt first, that of the run which it
names as lender before all others. What the borrower gives back good pays too, the oldest debt first: put into a kit box
of another run, only what is owed to that run.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Draw:
    """A hand-out of one item. lender : the run that lent it, None. own_box : it came from the run's own kit box."""

    event: str
    run: int
    quantity: Fraction
    lender: int | None = None
    own_box: bool = False


@dataclass(frozen=True, slots=True)
class GivenBack:
    """What a run gave back good. box_of : the run whose kit box it was put into, None for a place of nobody's own."""

    run: int
    quantity: Fraction
    box_of: int | None = None


@dataclass(frozen=True, slots=True)
class Debt:
    """What `borrower` still owes `lender` of an item from one hand-out."""

    event: str
    borrower: int
    lender: int
    quantity: Fraction


def open_debts(acts: Iterable[Draw | GivenBack]) -> list[Debt]:
    """Return the debts that are left after `acts`, given in the order in which they happened."""
    debts: list[Debt] = []
    for act in acts:
        if isinstance(act, GivenBack):
            owing = [debt for debt in debts if debt.borrower == act.run and act.box_of in (None, debt.lender)]
            debts, _ = _pay(debts, owing, act.quantity)
            continue
        rest = act.quantity
        if not act.own_box:
            lent = [debt for debt in debts if debt.lender == act.run]
            debts, rest = _pay(debts, sorted(lent, key=lambda debt: debt.borrower != act.lender), rest)
        if act.lender is not None and rest:
            debts.append(Debt(act.event, act.run, act.lender, rest))
    return debts


def _pay(debts: list[Debt], due: list[Debt], quantity: Fraction) -> tuple[list[Debt], Fraction]:
    """Return the debts left after `quantity` has paid those that are `due`, in turn, and what of it paid none."""
    left = {id(debt): debt for debt in debts}
    for debt in due:
        paid = min(quantity, debt.quantity)
        quantity -= paid
        left[id(debt)] = replace(debt, quantity=debt.quantity - paid)
    return [debt for debt in left.values() if debt.quantity], quantity
