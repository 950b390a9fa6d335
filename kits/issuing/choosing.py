"""What a hand-out takes: what the pick list shows and what is posted are chosen here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial

from kits.stock.books.balances import Books
from kits.stock.books.errors import LotError
from kits.stock.books.lots import fitting
from kits.stock.places import Places
from kits.stock.planned_acts import PlannedMove
from kits.stock.taking import Group, lots_told, taken
from takeoff.catalogue.models import Item
from takeoff.runs.models import Run
from takeoff.sites.models import Place


def drawn_from(places: Places, run: Run) -> list[Group]:
    """Return where a run draws from: its kit boxes, then what is pooled."""
    return [places.boxes_of(run), places.pooled()]


def chosen_for(
    books: Books,
    item: Item,
    groups: Sequence[Group],
    quantity: int,
    target: Place,
    *,
    run: Run,
    on: date,
    lot: str = "",
) -> list[PlannedMove]:
    """
    Return the moves of a hand-out, first expired first out, what is made for other runs left alone. [ticks]

    on : the day on which it must still be usable. Raises LackingError, or LotError for pieces that fit other runs.
    """
    if not item.for_run:
        return taken(books, item, groups, quantity, target, on=on, lot=lot)
    _refuse_what_fits_others(books, item, groups, quantity, run, lot)
    return taken(books, item, groups, quantity, target, on=on, lot=lot, turn=partial(fitting, run.name))


def _refuse_what_fits_others(
    books: Books, item: Item, groups: Sequence[Group], quantity: int, run: Run, lot: str
) -> None:
    """Refuse a hand-out that pieces made for other runs would have to serve."""
    lying = [one for places in groups for one in books.lying(item.pk, places) if lot in ("", one.lot)]
    others = [one for one in lying if fitting(run.name, one.lot) is None]
    if others and sum(one.quantity for one in lying) - sum(one.quantity for one in others) < quantity:
        raise LotError(
            f"{item} is made for a run, and too few of these are for {run}: {lots_told(others)} are for others.",
            column="lot" if lot else "quantity",
            found=lot,
            expected=f"what was made for {run}",
            lacks="stock",
        )
