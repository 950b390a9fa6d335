"""What the pages of hand-out show: stages to serve, and the pick list of one, in a number of queries that is fixed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Q

from kits.issuing.choosing import chosen_for, drawn_from
from kits.issuing.needs import handed_out_of, needs_of
from kits.stock.books.balances import Books, LackingError
from kits.stock.books.errors import LotError
from kits.stock.books.lots import fitting
from kits.stock.books.pieces import covered
from kits.stock.models import Balance, Lot
from kits.stock.places import Places
from kits.stock.services import piece_of
from takeoff.catalogue.models import Item
from takeoff.runs.models import Run, Stage
from takeoff.sites.models import GOOD_KINDS, Place, Site
from takeoff.units.exact import from_ticks, to_ticks

AHEAD = timedelta(days=14)
LAST = 10_000  # of bins that no number puts on the walk


@dataclass(frozen=True, slots=True)
class StageToServe:
    """An open stage that is planned soon. open : how many of its items are not all handed out, of how many."""

    run: Run
    stage: str
    planned: date
    open: int
    lines: int


@dataclass(frozen=True, slots=True)
class Taken:
    """
    What is taken from one place, of one lot, as it lies there. [ticks]

    walk : the place's number on the walk through the store. worth : in the item's own unit, of what came in its place;
    None where the item itself lies there.
    """

    place: str
    walk: int
    lot: str
    quantity: int
    expires: date | None
    unit: str
    worth: Decimal | None


@dataclass(frozen=True, slots=True)
class ComingBack:
    """What of an item may come back: without a lot all of its own, else pieces of what came in its place. [ticks]"""

    item: Item
    lot: str
    quantity: int
    unit: str


@dataclass(frozen=True, slots=True)
class PickRow:
    """
    An item of a stage: what it needs, what it has been handed, what is to be taken now and where it lies. In ticks.

    All but what is taken is in the item's own unit. back : what may come back, lot by lot.

    lacking : what no place gives that it may draw from. of_others : what lies in boxes of other runs.
    """

    item: Item
    need: int
    out: int
    taken: tuple[Taken, ...]
    lacking: int
    of_others: tuple[tuple[str, int], ...]
    back: tuple[ComingBack, ...] = ()

    @property
    def here(self) -> int:
        """What can be handed out now."""
        return self.open - self.lacking

    @property
    def open(self) -> int:
        """What it still needs."""
        return max(0, self.need - self.out)


@dataclass(frozen=True, slots=True)
class PickList:
    """The pick list of a stage, in the order in which the places are walked, and what it has that may come back."""

    run: Run
    stage: str
    done: bool
    rows: tuple[PickRow, ...]

    @property
    def to_take(self) -> list[PickRow]:
        """The rows of which something can be handed out."""
        return [row for row in self.rows if row.here]

    @property
    def lacking(self) -> list[PickRow]:
        """The rows of which something is missing."""
        return [row for row in self.rows if row.lacking]

    @property
    def back(self) -> list[ComingBack]:
        """What was handed out and may come back."""
        return [one for row in self.rows for one in row.back]


def stages_to_serve(site: Site) -> list[StageToServe]:
    """Return the open stages that are planned within two weeks, by day."""
    soon = Stage.objects.of(site).filter(done=None, planned__lte=site.today() + AHEAD).select_related("run")
    stages = list(soon.order_by("planned", "run__name", "pk"))
    needs = needs_of(site, {stage.run_id for stage in stages})
    out = handed_out_of(site, {stage.run_id for stage in stages})
    found = []
    for stage in stages:
        mine = {key: need for key, need in needs.items() if key[:2] == (stage.run_id, stage.stage)}
        if mine and stage.planned:
            open_ = sum(out[key] < need for key, need in mine.items())
            found.append(StageToServe(stage.run, stage.stage, stage.planned, open_, len(mine)))
    return found


def pick_list(site: Site, run: Run, stage: str) -> PickList:
    """Return what a stage still needs and what a hand-out of all of it would take now."""
    needs, out = needs_of(site, {run.pk}), handed_out_of(site, {run.pk})
    wanted = {item for run_, of_stage, item in (*needs, *out) if of_stage == stage}
    items = {item.pk: item for item in Item.objects.of(site).filter(pk__in=wanted)}
    places = Places(site)
    target = places.handed_out(run, stage)
    books, there = _books(site, places, items.keys(), target)
    rows = []
    for key in sorted(wanted, key=lambda item: items[item].code):
        item, need, had = items[key], needs[run.pk, stage, key], out[run.pk, stage, key]
        taken, lacking = _taken(books, item, places, run, target, max(0, need - had), site.today())
        others: Counter[str] = Counter()
        for lying in books.lying(key, there):
            owner = places.owner(there[lying.place])
            if owner and owner != run and (not item.for_run or fitting(run.name, lying.lot) is not None):
                others[owner.name] += covered(lying.quantity, lying.piece.each)
        boxes = tuple(sorted(others.items())) if lacking else ()
        rows.append(PickRow(item, need, had, taken, lacking, boxes, tuple(_back(books, item, target))))
    rows.sort(
        key=lambda row: (*((row.taken[0].walk, row.taken[0].place) if row.taken else (LAST + 1, "")), row.item.code)
    )
    done = Stage.objects.of(site).filter(run=run, stage=stage, done__isnull=False).exists()
    return PickList(run, stage, done, tuple(rows))


def _taken(
    books: Books, item: Item, places: Places, run: Run, target: Place, wanted: int, on: date
) -> tuple[tuple[Taken, ...], int]:
    """Return what a hand-out takes of what is wanted, as much as there is, and what is lacking. [ticks]"""
    ask = wanted
    while ask:
        try:
            moves = chosen_for(books, item, drawn_from(places, run), ask, target, run=run, on=on)
        except LackingError as error:
            ask = error.found if error.found < ask else 0
        except LotError:
            return (), wanted  # what lies here is made for other runs
        else:
            pieces = ((move, books.piece(item.pk, move.lot)) for move in moves)
            taken = tuple(
                Taken(
                    m.source.told,
                    m.source.walk or LAST,
                    m.lot,
                    m.quantity,
                    books.expires(item.pk, m.lot),
                    piece.unit or item.unit,
                    from_ticks(covered(m.quantity, piece.each)) if piece.came is not None else None,
                )
                for m, piece in pieces
            )
            return taken, wanted - ask
    return (), wanted


def _back(books: Books, item: Item, target: Place) -> Iterator[ComingBack]:
    """Yield what of an item may come back from where it was handed out."""
    lying = books.lying(item.pk, [target.pk])
    if own := sum(one.quantity for one in lying if one.piece.came is None):
        yield ComingBack(item, "", own, item.unit)
    for one in sorted(lying, key=lambda one: one.lot):
        if one.piece.came is not None:
            yield ComingBack(item, one.lot, one.quantity, one.piece.unit)


def _books(site: Site, places: Places, items: Collection[int], target: Place) -> tuple[Books, dict[int, Place]]:
    """Return what lies of some items in good places and at `target`, and the good places by key."""
    good = {place.pk: place for place in places.good()}
    where = Q(place__kind__in=GOOD_KINDS) | Q(place=target)
    rows = Balance.objects.of(site).filter(where, item__in=items, quantity__gt=0)
    balances = {(row.place_id, row.item_id, row.lot): to_ticks(row.quantity) for row in rows}
    lots = Lot.objects.of(site).filter(item__in=items).select_related("came_item")
    expires = {(lot.item_id, lot.code): lot.expires for lot in lots if lot.expires}
    return Books(balances, expires=expires, pieces={(lot.item_id, lot.code): piece_of(lot) for lot in lots}), good
