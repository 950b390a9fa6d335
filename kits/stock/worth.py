"""
What pieces that came in place of an item are worth of it, wherever they lie, in a fixed number of queries.

Only lots are read of which a piece covers more or less than one; of all others a quantity is its own worth.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime
from fractions import Fraction
from typing import Any

from django.db.models import Exists, F, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from kits.stock.books.balances import Key
from kits.stock.books.pieces import shared_worth
from kits.stock.models import Balance, Lot, Move, Posting
from kits.stock.queries import reversals
from takeoff.sites.models import Place, Site
from takeoff.units.exact import to_ticks

LotKey = tuple[int, str]  # item, lot


def worth_lying(site: Site, *, items: Collection[int] | None = None, before: datetime | None = None) -> dict[Key, int]:
    """
    Return what pieces are worth by place, item and lot: the places of a lot share what its receipts cover. [ticks]

    items : these only, by key. before : as the books stood at a moment, by all that is known today.
    """
    lots = Lot.objects.of(site).exclude(covers=Fraction(1))
    if items is not None:
        lots = lots.filter(item__in=items)
    covers = {(item, lot): Fraction(each) for item, lot, each in lots.values_list("item", "code", "covers")}
    if not covers:
        return {}
    named = {"item__in": {item for item, _ in covers}, "lot__in": {lot for _, lot in covers}}
    places: dict[LotKey, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    rows = Balance.objects.of(site).filter(**named).order_by()
    for place, item, lot, quantity in rows.values_list("place", "item", "lot", "quantity"):
        places[item, lot][place] += to_ticks(quantity)
    moves = Move.objects.of(site).filter(**named).order_by()
    later = moves.filter(posting__at__gte=before) if before else moves.none()
    for item, lot, source, target, quantity in later.values_list("item", "lot", "source", "target", "quantity"):
        places[item, lot][target] -= to_ticks(quantity)
        places[item, lot][source] += to_ticks(quantity)
    came = _came(site, moves, before)
    suppliers = set(Place.objects.of(site).filter(kind=Place.Kind.SUPPLIER).values_list("pk", flat=True))
    found: dict[Key, int] = {}
    for key, each in covers.items():
        item, lot = key
        held = places[key]
        # What suppliers lack is what the receipts cover, and all other places share it.
        for theirs in (True, False):
            mine = sorted(place for place in held if (place in suppliers) is theirs)
            shares = shared_worth([held[place] * (-1 if theirs else 1) for place in mine], each=each, came=came[key])
            for place, worth in zip(mine, shares, strict=True):
                found[place, item, lot] = -worth if theirs else worth
    return found


def _came(site: Site, moves: QuerySet[Move], before: datetime | None) -> dict[LotKey, list[int]]:
    """Return the pieces of each receipt of a lot that stands, or stood at a moment. [ticks]"""
    receipts = moves.filter(posting__kind=Posting.Kind.RECEIPT)
    gone = reversals(site)
    if before:
        receipts = receipts.filter(posting__at__lt=before)
        gone = gone.filter(at__lt=before)
    of_receipt: dict[tuple[int, LotKey], int] = defaultdict(int)
    for posting, item, lot, quantity in receipts.filter(~Exists(gone)).values_list(
        "posting", "item", "lot", "quantity"
    ):
        of_receipt[posting, (item, lot)] += to_ticks(quantity)
    came: dict[LotKey, list[int]] = defaultdict(list)
    for (_, key), pieces in of_receipt.items():
        came[key].append(pieces)
    return came


def with_units(rows: QuerySet[Any], *sites: Site) -> QuerySet[Any]:
    """Return moves or balances, each with the `unit` that it lies and is counted in, be it of what came instead."""
    known = Lot.objects.of(*sites).filter(item=OuterRef("item"), code=OuterRef("lot"))
    came: QuerySet[Any] = rows.annotate(unit=Coalesce(Subquery(known.values("came_item__unit")[:1]), F("item__unit")))
    return came
