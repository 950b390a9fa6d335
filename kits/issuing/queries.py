"""Reads about hand-outs: who owes whom."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor

from django.db.models import Exists

from kits.issuing.debts import Draw, GivenBack, open_debts
from kits.promises.queries import kit_of
from kits.stock.models import Lot, Move, Posting
from kits.stock.queries import reversals
from takeoff.catalogue.models import Item
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks, to_ticks

PAYING = [Posting.Kind.ISSUE, Posting.Kind.RETURN]


@dataclass(frozen=True, slots=True)
class Owed:
    """What a run owes another of an item."""

    item: Item
    borrower: Run
    lender: Run
    quantity: Decimal


def debts(site: Site) -> list[Owed]:
    """Return what runs owe each other at a site, by item, borrower and lender, in a fixed number of queries."""
    stands = ~Exists(reversals(site))
    lent = Move.objects.of(site).filter(stands, posting__lender__isnull=False)
    items = set(lent.order_by().values_list("item", flat=True).distinct())
    covers = {(lot.item_id, lot.code): lot.covers for lot in Lot.objects.of(site).filter(item__in=items)}
    moves = (
        Move.objects.of(site)
        .filter(stands, item__in=items, posting__kind__in=PAYING)
        .select_related("item", "posting__lender", "source__run", "target__run")
        .select_related("source__kit_box__kit", "target__kit_box__kit")
        .order_by("posting__at", "pk")
    )
    acts: dict[int, list[Draw | GivenBack]] = defaultdict(list)
    known_items: dict[int, Item] = {}
    runs: dict[int, Run] = {}
    for move in moves:
        returned = move.posting.kind == Posting.Kind.RETURN
        if returned and not Place.Kind(move.target.kind).holds_good_stock:
            continue
        run = move.source.run if returned else move.target.run
        assert run is not None  # what is handed out goes to a stage of a run, and comes back from one
        known_items[move.item_id] = move.item
        for one in (run, move.posting.lender):
            if one:
                runs[one.pk] = one
        # Not cut: what is lent at once may come back in several parts.
        quantity = to_ticks(move.quantity) * Fraction(covers.get((move.item_id, move.lot), 1))
        box_of = _box_of(move.target if returned else move.source)
        acts[move.item_id].append(
            GivenBack(run.pk, quantity, box_of)
            if returned
            else Draw(move.posting.event_id, run.pk, quantity, move.posting.lender_id, own_box=box_of == run.pk)
        )
    totals: dict[tuple[int, int, int], Fraction] = defaultdict(Fraction)
    for item, happened in acts.items():
        for debt in open_debts(happened):
            totals[item, debt.borrower, debt.lender] += debt.quantity
    owed = [
        Owed(known_items[item], runs[borrower], runs[lender], from_ticks(floor(quantity)))
        for (item, borrower, lender), quantity in totals.items()
        if quantity >= 1  # less than a tick is none
    ]
    return sorted(owed, key=lambda one: (one.item.code, one.borrower.name, one.lender.name))


def _box_of(place: Place) -> int | None:
    """Return the key of the run whose kit a place serves, None for what is pooled."""
    kit = kit_of(place)
    return kit.run_id if kit else None
