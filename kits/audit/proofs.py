"""
Proofs about the ledgers, for `manage.py audit`.

This is the one place besides the site scope that looks across sites, because what crosses them is what it looks for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import nullcontext
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice

from django.apps import apps
from django.db import connection, models, transaction
from django.db.models import Exists, F, Sum

from kits.receiving.models import ReceiptLine
from kits.stock.models import Balance, Lot, LotDay, Move
from kits.stock.queries import reversals
from kits.stock.worth import worth_lying
from takeoff.catalogue.models import Item
from takeoff.database.append_only import missing_guards
from takeoff.photos.queries import lost_or_left
from takeoff.rules.queries import altered_books
from takeoff.sites.models import Place, Site
from takeoff.sites.scope import SiteManager, site_path
from takeoff.units.exact import from_ticks, to_ticks

Key = tuple[int, int, str]  # place, item, lot
MOST_TOLD = 20  # faults of one kind


@dataclass(frozen=True, slots=True)
class Proof:
    """One thing that was proved or not: `faults` says what stands against it, nothing when it holds."""

    claim: str
    faults: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether nothing stands against the claim."""
        return not self.faults


def prove_site(site: Site) -> list[Proof]:
    """Return what can be proved of one site's stock and rules."""
    return [
        prove("The places of every item and lot add up to zero", lambda: _uneven(site)),
        prove("Balances are what the moves say", lambda: rebuilt_balances(site)),
        prove("No real place holds less than nothing", lambda: _negative(site)),
        prove("What was counted of deliveries is what suppliers lack", lambda: _uncovered(site)),
        prove("Lots can be used to the day that was said last", lambda: _other_days(site)),
        prove("Photos are the files that were kept, and none that was taken away", lambda: lost_or_left(site)),
        prove("Published rule books are as they were published", lambda: map(str, altered_books(site))),
    ]


def prove_database() -> list[Proof]:
    """Return what can be proved of the whole database."""
    return [
        prove("Every table is there", _dropped_tables),
        prove("The guards on recorded rows are in place", _absent_guards),
        prove("No row belongs to two sites", crossings),
    ]


def prove(claim: str, faults: Callable[[], Iterable[str]]) -> Proof:
    """Return a proof; what keeps it from being looked at, a dropped table or a cell that is none, is a fault too."""
    # Where nothing is open, nothing is opened: on SQLite nobody could write until the proof is done.
    within = transaction.atomic if connection.in_atomic_block else nullcontext
    try:
        with within():
            return Proof(claim, _told(faults()))
    except Exception as error:  # whatever was done to the books, the other proofs follow
        return Proof(claim, (f"It cannot be looked at: {type(error).__name__}, {error}".strip(),))


def _dropped_tables() -> Iterator[str]:
    tables = set(connection.introspection.table_names())
    for model in apps.get_models():
        if model._meta.db_table not in tables:
            yield f"{model._meta.db_table} is gone"


def _absent_guards() -> Iterator[str]:
    for guard in missing_guards(connection):
        yield f"{guard.name} on {guard.table}"


def _uneven(site: Site) -> Iterator[str]:
    for item, total in uneven_items(site):
        yield f"{item}: {total}"


def uneven_items(site: Site) -> list[tuple[Item, Decimal]]:
    """Return the items of which some lot's balances over all places do not add up to zero, in two queries."""
    lots = Balance.objects.of(site).order_by().values_list("item", "lot").annotate(total=Sum("quantity"))
    uneven = sorted(lots.exclude(total=0))
    items = Item.objects.of(site).in_bulk({item for item, _, _ in uneven})
    return [(items[item], total) for item, _, total in uneven]


def rebuilt_balances(site: Site) -> list[str]:
    """Return the balances that differ from what all moves say, rebuilt from nothing."""
    moves = Move.objects.of(site).order_by()
    rebuilt: dict[Key, int] = {}
    for end, sign in (("target", 1), ("source", -1)):
        for place, item, lot, total in moves.values_list(end, "item", "lot").annotate(total=Sum("quantity")):
            rebuilt[place, item, lot] = rebuilt.get((place, item, lot), 0) + sign * to_ticks(total)
    rows = Balance.objects.of(site).values_list("place", "item", "lot", "quantity")
    kept = {(place, item, lot): to_ticks(quantity) for place, item, lot, quantity in rows}
    wrong = sorted(key for key in {*rebuilt, *kept} if rebuilt.get(key, 0) != kept.get(key, 0))
    places = Place.objects.of(site).in_bulk({key[0] for key in wrong})
    items = Item.objects.of(site).in_bulk({key[1] for key in wrong})
    return [
        f"{places.get(key[0], key[0])}, {items.get(key[1], key[1])}{' lot ' + key[2] if key[2] else ''}: "
        f"kept {from_ticks(kept.get(key, 0))}, moves say {from_ticks(rebuilt.get(key, 0))}"
        for key in wrong
    ]


def _uncovered(site: Site) -> Iterator[str]:
    """
    Yield the items of which receipts do not say what suppliers' places lack: covered by lines, and come besides.

    Of what came in place of an item it is what that is worth.
    """
    standing = ReceiptLine.objects.of(site).filter(~Exists(reversals(site, of="receipt__posting"))).order_by()
    said: dict[int, int] = {}
    for line in standing.select_related(None).values_list("item", "came_item", "counted", "covers"):
        item, came, counted, covers = line
        other = came is not None and came != item and not covers
        stocked, ticks = (came, to_ticks(counted)) if other else (item, to_ticks(covers))
        said[stocked] = said.get(stocked, 0) + ticks
    worth = worth_lying(site)
    gone: dict[int, int] = defaultdict(int)
    lacks = Balance.objects.of(site).filter(place__kind=Place.Kind.SUPPLIER).order_by()
    for place, key, lot, quantity in lacks.values_list("place", "item", "lot", "quantity"):
        gone[key] -= worth.get((place, key, lot), to_ticks(quantity))
    wrong = sorted(item for item in {*said, *gone} if said.get(item, 0) != gone.get(item, 0))
    names = Item.objects.of(site).in_bulk(wrong)
    for item in wrong:
        counted, left = from_ticks(said.get(item, 0)), from_ticks(gone.get(item, 0))
        yield f"{names[item]}: counted {counted}, gone from suppliers {left}"


def _other_days(site: Site) -> Iterator[str]:
    """Yield the lots whose day is another than the last that was said, or that nobody said, and those that are gone."""
    said = LotDay.objects.of(site).filter(~Exists(reversals(site))).order_by("posting__at", "pk")
    last = {(item, lot): day for item, lot, day in said.values_list("item", "lot", "day")}
    for lot in Lot.objects.of(site).select_related("item"):
        day = last.pop((lot.item_id, lot.code), None)
        if day != lot.expires:
            yield f"{lot.item} lot {lot.code}: kept {lot.expires}, said {day}"
    items = Item.objects.of(site).in_bulk({item for item, _ in last})
    for (item, code), day in last.items():
        yield f"{items[item]} lot {code}: not kept, said {day}"


def crossings() -> list[str]:
    """Return the rows that point to a row of another site, over every foreign key between models with a site."""
    found = []
    for model, field in _foreign_keys():
        here, there = site_path(model), f"{field.name}__{site_path(field.related_model)}"
        rows = model._default_manager.exclude(**{field.name: None}).exclude(**{there: F(here)})
        pks = rows.order_by("pk").values_list("pk", flat=True)[:MOST_TOLD]
        target = field.related_model.__name__
        found += [f"{model.__name__} {pk} points by {field.name} to a {target} elsewhere" for pk in pks]
    return found


def _foreign_keys() -> Iterator[tuple[type[models.Model], models.ForeignKey]]:
    """Yield every foreign key from a model with a site to another, its own way to the site left out."""
    for model in apps.get_models():
        if not _has_site(model):
            continue
        for field in model._meta.concrete_fields:
            if not isinstance(field, models.ForeignKey) or not _has_site(field.related_model):
                continue
            if site_path(model) != f"{field.name}__{site_path(field.related_model)}":
                yield model, field


def _has_site(model: type[models.Model]) -> bool:
    return isinstance(model._default_manager, SiteManager)


def _negative(site: Site) -> Iterator[str]:
    # The kind of the place decides, not the copy of it that the balance keeps.
    far = [kind for kind in Place.Kind if kind.may_be_negative]
    rows = Balance.objects.of(site).filter(quantity__lt=0).exclude(place__kind__in=far)
    for row in rows.select_related("place", "item"):
        yield str(row)


def _told(faults: Iterable[str]) -> tuple[str, ...]:
    left = iter(faults)
    told = list(islice(left, MOST_TOLD))
    if more := sum(1 for _ in left):
        told.append(f"and {more} more")
    return tuple(told)
