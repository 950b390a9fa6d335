"""The steps of acts that take an item from where it lies to another place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date

from kits.stock.books.balances import Books, Lying
from kits.stock.books.errors import LotError, pieces_told
from kits.stock.books.lots import runs_named
from kits.stock.planned_acts import PlannedMove
from takeoff.catalogue.models import Item
from takeoff.sites.models import Place

Steps = Callable[[Books], list[PlannedMove]]
Group = Mapping[int, Place]  # places by key


def carrying(item: Item, quantity: int, sources: Group, target: Place, *, lot: str = "") -> Steps:
    """Return the steps that take `quantity` [ticks] of the pieces of a lot, or of any, first expired first out."""

    def steps(books: Books) -> list[PlannedMove]:
        return taken(books, item, [sources], quantity, target, lot=lot)

    return steps


def carrying_lot(item: Item, quantity: int, sources: Group, target: Place, *, lot: str = "") -> Steps:
    """
    Return the steps that take `quantity` [ticks] of a lot from the first places that have it.

    A blank `lot` means what has none; where that is not enough and lots lie there, they ask which.
    """

    def steps(books: Books) -> list[PlannedMove]:
        if lot:
            return taken(books, item, [sources], quantity, target, lot=lot)
        lying = books.lying(item.pk, sources)
        lots = [one for one in lying if one.lot]
        if lots and sum(one.quantity for one in lying if not one.lot) < quantity:
            raise which_lot(item, " or ".join(sorted({str(sources[one.place]) for one in lots})), lots)
        return taken(books, item, [sources], quantity, target, turn=lambda lot: None if lot else 0)

    return steps


def taken(
    books: Books,
    item: Item,
    groups: Sequence[Group],
    quantity: int,
    target: Place,
    *,
    on: date | None = None,
    lot: str = "",
    last_first: bool = False,
    turn: Callable[[str], int | None] = lambda _lot: 0,
) -> list[PlannedMove]:
    """Return the moves that take what covers `quantity` to `target`, as `Books.pick` chooses from the groups."""
    chosen: list[Lying] = books.pick(item.pk, groups, quantity, on=on, lot=lot, last_first=last_first, turn=turn)
    there = {key: place for places in groups for key, place in places.items()}
    return [PlannedMove(item, lying.quantity, there[lying.place], target, lying.lot) for lying in chosen]


def which_lot(item: Item, where: str, lying: Sequence[Lying]) -> LotError:
    """Return the refusal that asks which lot is meant, with those that lie there."""
    there = f"{lots_told(lying)} in {where}"
    return LotError(f"Which lot of {item}? There is {there}.", column="lot", expected=f"the lot that is meant: {there}")


def lot_for_runs(item: Item, lot: str, runs: Iterable[str]) -> str:
    """
    Return the lot of what is made for runs as the runs are called, in their order.

    runs : the names of all runs. Raises LotError where it names none, or one that does not exist.
    """
    known = {name.casefold(): name for name in runs}
    named = [known.get(name.casefold(), "") for name in runs_named(lot)]
    if not named or not all(named):
        raise LotError(
            f"Which run is {item} made for? Its lot says it: the name of the run, several by comma.",
            column="lot",
            found=lot,
            expected="the name of the run that it is made for, several by comma",
        )
    return ", ".join(sorted(set(named)))


def lots_told(lying: Sequence[Lying]) -> str:
    """Return lots with their quantities, for a sentence."""
    return ", ".join(f"{one.lot or 'no lot'} ({pieces_told(one)})" for one in lying)
