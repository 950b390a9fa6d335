"""Reads about hand-outs: who owes whom."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from kits.issuing.debts import Draw, open_debts
from kits.stock.models import Move, Posting
from takeoff.catalogue.models import Item
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks, to_ticks


@dataclass(frozen=True, slots=True)
class Owed:
    """What a run owes another of an item."""

    item: Item
    borrower: Run
    lender: Run
    quantity: Decimal


def debts(site: Site) -> list[Owed]:
    """Return what runs owe each other at a site, by item, borrower and lender, in a fixed number of queries."""
    lent = Move.objects.of(site).filter(posting__lender__isnull=False, posting__reversed_by__isnull=True)
    items = set(lent.order_by().values_list("item", flat=True).distinct())
    moves = (
        Move.objects.of(site)
        .filter(item__in=items, posting__kind=Posting.Kind.ISSUE, posting__reversed_by__isnull=True)
        .select_related("item", "posting__lender", "target__run", "source__kit")
        .order_by("posting__at", "posting", "pk")
    )
    draws: dict[int, list[Draw]] = defaultdict(list)
    known_items: dict[int, Item] = {}
    runs: dict[int, Run] = {}
    for move in moves:
        run = move.target.run
        assert run is not None  # a hand-out goes to a stage of a run
        known_items[move.item_id] = move.item
        for one in (run, move.posting.lender):
            if one:
                runs[one.pk] = one
        kit = getattr(move.source, "kit", None) if move.source.kind == Place.Kind.KIT_BOX else None
        draws[move.item_id].append(
            Draw(
                move.posting.event_id,
                run.pk,
                to_ticks(move.quantity),
                move.posting.lender_id,
                own_box=bool(kit and kit.run_id == run.pk),
            )
        )
    totals: dict[tuple[int, int, int], int] = defaultdict(int)
    for item, drawn in draws.items():
        for debt in open_debts(drawn):
            totals[item, debt.borrower, debt.lender] += debt.quantity
    owed = [
        Owed(known_items[item], runs[borrower], runs[lender], from_ticks(quantity))
        for (item, borrower, lender), quantity in totals.items()
    ]
    return sorted(owed, key=lambda one: (one.item.code, one.borrower.name, one.lender.name))
