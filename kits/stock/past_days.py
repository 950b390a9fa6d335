"""Past days on which the books cannot have been so: a record that came late takes what was not there yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Max, Sum

from kits.stock.models import Move
from takeoff.catalogue.models import Item
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks, to_ticks

Key = tuple[int, int, str]  # place, item, lot


@dataclass(frozen=True, slots=True)
class BelowZero:
    """A place that holds less than nothing at the end of a day, by what is recorded. quantity : ticks, below 0."""

    day: date
    place: Place
    item: Item
    lot: str
    quantity: int

    def __str__(self) -> str:
        lot = f" of lot {self.lot}" if self.lot else ""
        held = f"{from_ticks(self.quantity).normalize():f}"
        return f"{self.item}{lot} in {self.place}: {held} at the end of {self.day:%Y-%m-%d}"


def below_zero_on(site: Site, day: date) -> list[BelowZero]:
    """Return the places of a site that hold less than nothing at the end of a day, in two queries and their names."""
    end = site.start_of(day + timedelta(days=1))
    held: dict[Key, int] = defaultdict(int)
    for key, _, quantity in _flows(site, {"posting__at__lt": end}):
        held[key] += quantity
    return _named(site, ((day, key, quantity) for key, quantity in held.items() if quantity < 0))


def below_zero_since(site: Site, since: Mapping[int, datetime]) -> list[BelowZero]:
    """
    Return, for each place and lot of items, the first day since a moment on which it holds less than nothing.

    since : the moment by item, by primary key.
    """
    journal: dict[Key, dict[date, int]] = defaultdict(lambda: defaultdict(int))
    for key, moments, quantity in _flows(site, {"item__in": list(since)}, "posting__at"):
        journal[key][site.local_date(moments[0])] += quantity
    found = []
    for key, days in journal.items():
        held = 0
        for day in sorted(days):
            held += days[day]
            if held < 0 and day >= site.local_date(since[key[1]]):
                found.append((day, key, held))
                break
    return _named(site, found)


def latest_moves(site: Site, items: Iterable[int], since: datetime, before: datetime) -> dict[int, datetime]:
    """Return by item the moment of the latest of its moves after `since` that were recorded `before` a moment."""
    # What a load brings is mostly the latest: then the index by date finds nothing, however many moves there are.
    after = {"posting__at__gt": since, "posting__recorded_at__lt": before}
    rows = Move.objects.of(site).filter(item__in=list(items), **after).order_by()
    return dict(rows.values("item").annotate(latest=Max("posting__at")).values_list("item", "latest"))


def _flows(site: Site, only: Mapping[str, object], *besides: str) -> Iterator[tuple[Key, Sequence[datetime], int]]:
    """Return what came to real places and left them, by place, item and lot, and by what else is named."""
    for side, sign in (("target", 1), ("source", -1)):
        kinds = [kind for kind in Place.Kind if not kind.may_be_negative]
        rows = Move.objects.of(site).filter(**only, **{f"{side}__kind__in": kinds}).order_by()
        sums = rows.values_list(side, "item", "lot", *besides).annotate(total=Sum("quantity"))
        for place, item, lot, *moments, total in sums:
            yield (place, item, lot), moments, sign * to_ticks(total)


def _named(site: Site, found: Iterable[tuple[date, Key, int]]) -> list[BelowZero]:
    rows = sorted(found)
    places = Place.objects.of(site).in_bulk([place for _, (place, _, _), _ in rows])
    items = Item.objects.of(site).in_bulk([item for _, (_, item, _), _ in rows])
    return [BelowZero(day, places[place], items[item], lot, held) for day, (place, item, lot), held in rows]
