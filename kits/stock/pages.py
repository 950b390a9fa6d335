"""Reads of the stock pages, in a number of queries that does not grow with items, places or moves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Case, Count, Exists, OuterRef, Q, QuerySet, Subquery, Sum, When
from django.db.models.expressions import Combinable

from kits.stock.dear import is_dear
from kits.stock.models import Balance, Lot, Move
from kits.stock.worth import with_units, worth_lying
from takeoff.catalogue.models import Item
from takeoff.database.fields import ExactField, exact_value
from takeoff.sites.models import GOOD_KINDS, WORK_KINDS, Place, Site
from takeoff.sites.scope import SiteQuerySet
from takeoff.units.exact import from_ticks, to_ticks

Kind = Place.Kind
HERE = [*GOOD_KINDS, Kind.QUARANTINE]
# Where stock of a site is or went: what a list of places shows.
LISTED = [*HERE, *WORK_KINDS, Kind.SCRAP]


@dataclass(frozen=True, slots=True)
class LyingRow:
    """
    A quantity of an item and lot at a place, with the last day it can be used.

    unit : that it is counted in. worth : of the item, of what came in its place; None where the item itself lies there.
    """

    item: Item
    place: Place
    lot: str
    quantity: Decimal
    expires: date | None
    expired: bool
    unit: str
    worth: Decimal | None


def stock_list(site: Site) -> SiteQuerySet[Any]:
    """
    Return the items of a site with what of them is usable, expired and on hold, and what is handed out.

    In the items' own units: what came in place of one counts as what it is worth.
    """
    more = _worth_beside_pieces(site)

    def lying(*kinds: str, **having: bool) -> Combinable:
        rows: QuerySet[Any] = Balance.objects.of(site).filter(item=OuterRef("pk"), place__kind__in=kinds)
        if having:
            gone_by = Lot.objects.of(site).filter(item=OuterRef("item"), code=OuterRef("lot"), expires__lt=site.today())
            rows = rows.annotate(gone_by=Exists(gone_by)).filter(**having)
        total = Subquery(rows.order_by().values("item").annotate(total=Sum("quantity")).values("total"))
        extra: dict[int, int] = defaultdict(int)
        for (item, kind, expired), ticks in more.items():
            if kind in kinds and having.get("gone_by", expired) == expired:
                extra[item] += ticks
        by_item = [When(pk=item, then=exact_value(from_ticks(ticks))) for item, ticks in extra.items()]
        return total + Case(*by_item, default=exact_value(0), output_field=ExactField()) if by_item else total

    return (
        Item.objects.of(site)
        .select_related("supplier")
        .annotate(
            good=lying(*GOOD_KINDS),
            expired=lying(*GOOD_KINDS, gone_by=True),
            usable=lying(*GOOD_KINDS, gone_by=False),
            held=lying(Kind.QUARANTINE.value),
            handed_out=lying(Kind.HANDED_OUT.value),
        )
        .order_by("code")
    )


def _worth_beside_pieces(site: Site) -> dict[tuple[int, str, bool], int]:
    """Return by how much pieces are worth more than there are, by item, kind of place and whether expired. [ticks]"""
    found: dict[tuple[int, str, bool], int] = defaultdict(int)
    if not (worth := worth_lying(site)):
        return found
    today, items = site.today(), {item for _, item, _ in worth}
    lots = Lot.objects.of(site).filter(item__in=items, expires__lt=today)
    expired = set(lots.values_list("item", "code"))
    rows = Balance.objects.of(site).filter(item__in=items).exclude(quantity=0).order_by()
    for place, kind, item, lot, quantity in rows.values_list("place", "place__kind", "item", "lot", "quantity"):
        if (place, item, lot) in worth:
            found[item, kind, (item, lot) in expired] += worth[place, item, lot] - to_ticks(quantity)
    return found


def place_list(site: Site) -> SiteQuerySet[Any]:
    """Return the places where stock of a site lies or was handed out, with how many items each holds."""
    holds = Count("balances__item", filter=~Q(balances__quantity=0), distinct=True)
    places = Place.objects.of(site).filter(kind__in=LISTED).select_related("run", "kit_box__kit__run")
    return places.annotate(holds=holds).order_by("name")


def lying_at(site: Site, *, place: Place | None = None, item: Item | None = None) -> list[LyingRow]:
    """Return what lies at a place, or where an item lies, expired lots marked; what is here before what is gone."""
    rows = Balance.objects.of(site).filter(place__kind__in=LISTED).exclude(quantity=0).select_related("place", "item")
    lots = Lot.objects.of(site).select_related("came_item")
    if place is not None:
        rows, lots = rows.filter(place=place), lots.filter(item__balances__place=place)
    if item is not None:
        rows, lots = rows.filter(item=item), lots.filter(item=item)
    known = {(lot.item_id, lot.code): lot for lot in lots}
    worth = worth_lying(site, items={item_id for item_id, _ in known})
    today = site.today()
    found = []
    for row in with_units(rows, site).order_by("place__name", "item__code", "lot"):
        lot = known.get((row.item_id, row.lot))
        expires = lot.expires if lot else None
        covers = None
        if lot and lot.came_item:
            covers = from_ticks(worth.get((row.place_id, row.item_id, row.lot), to_ticks(row.quantity)))
        # What was used before its last day is not the worse for it.
        expired = expires is not None and expires < today and row.place.kind in HERE
        found.append(LyingRow(row.item, row.place, row.lot, row.quantity, expires, expired, row.unit, covers))
    return sorted(found, key=lambda row: (row.place.kind not in HERE, row.expired))


def moves_of(site: Site, item: Item) -> QuerySet[Any]:
    """Return the moves of an item, newest first, each with its unit."""
    rows = Move.objects.of(site).filter(item=item).select_related("posting", "source", "target")
    return with_units(rows, site).order_by("-posting__at", "-pk")


@dataclass(frozen=True, slots=True)
class Compared:
    """
    What was counted of an item and lot in a bin, and what was there by what is known. differs : by how many.

    dear : whether that is worth so much that somebody else should count it, too.
    """

    code: str
    lot: str
    counted: Decimal
    known: Decimal
    dear: bool = False

    @property
    def differs(self) -> Decimal:
        """More than was known, or (below zero) less."""
        return self.counted - self.known


def compared(site: Site, place: Place, rows: Sequence[Mapping[str, str]]) -> list[Compared]:
    """Hold what was counted in a bin, by item and lot, against what is known to lie there."""
    balances = Balance.objects.of(site).filter(place=place).select_related("item")
    known = {(row.item.code, row.lot): row for row in balances}
    found = []
    for row in rows:
        lot, there = row.get("lot", ""), known.get((row["item"], row.get("lot", "")))
        one = Compared(row["item"], lot, Decimal(row["counted"]), there.quantity if there else Decimal(0))
        dear = there is not None and one.known > 0 and is_dear(there.item, to_ticks(abs(one.differs)), site)
        found.append(replace(one, dear=dear))
    return found
