"""What the pages of gang boxes show, in a number of queries that does not grow with boxes, items or moves."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Exists, Max, Min
from django.utils import timezone

from kits.gang_boxes.served import gang_boxes, read_crew_work
from kits.issuing.needs import needs_of
from kits.stock.models import Balance, BinCount, Lot, Move
from kits.stock.places import Places, box_of_crew
from kits.stock.queries import reversals
from kits.stock.worth import with_units
from takeoff.catalogue.models import Item
from takeoff.database.folding import folded
from takeoff.runs.models import Run, Stage
from takeoff.sites.models import Place, Site

FRIDAY = 4


@dataclass(frozen=True, slots=True)
class Box:
    """
    A gang box. items : how many lie in it. since : when it was counted last, else filled first, None while neither.

    done : stages done since that need something of it. due : whether somebody is to say what is left.
    """

    place: Place
    items: int
    since: date | None
    done: tuple[str, ...]
    due: bool


@dataclass(frozen=True, slots=True)
class InBox:
    """What lies of an item and lot in a box, in `unit`. stages : over which what is gone is shared."""

    item: Item
    lot: str
    quantity: Decimal
    unit: str
    stages: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToFill:
    """What lies of an item and lot in a bin, in `unit`, and may go into a box."""

    item: Item
    place: Place
    lot: str
    quantity: Decimal
    unit: str
    expires: date | None


def boxes(site: Site) -> list[Box]:
    """Return the gang boxes of a site, those first of which somebody is to say what is left."""
    places = list(gang_boxes(site))
    keys = [place.pk for place in places]
    lying = Balance.objects.of(site).filter(place__in=keys, quantity__gt=0).values_list("place", "item")
    held: dict[int, set[int]] = defaultdict(set)
    for key, item in lying if places else ():
        held[key].add(item)
    since = _since(site, keys) if places else {}
    done = _done_since(site, places, held, since) if since else {}
    friday = site.today() - timedelta(days=(site.today().weekday() - FRIDAY) % 7)
    found = []
    for place in places:
        at, stages = since.get(place.pk), tuple(done.get(place.pk, ()))
        day = site.local_date(at) if at else None
        due = bool(held[place.pk]) and (bool(stages) or (day is not None and day < friday))
        found.append(Box(place, len(held[place.pk]), day, stages, due))
    return sorted(found, key=lambda box: not box.due)


def _since(site: Site, boxes: list[int]) -> dict[int, datetime]:
    """Return by box when it was counted last, else when it was filled first."""
    stands = ~Exists(reversals(site))
    fills = Move.objects.of(site).filter(stands, target__in=boxes).order_by()
    counts = BinCount.objects.of(site).filter(stands, place__in=boxes).order_by()
    found = dict(fills.values("target").annotate(at=Min("posting__at")).values_list("target", "at"))
    return found | dict(counts.values("place").annotate(at=Max("posting__at")).values_list("place", "at"))


def _done_since(
    site: Site, places: list[Place], held: dict[int, set[int]], since: dict[int, datetime]
) -> dict[int, list[str]]:
    """Return by box the stages of its crew's runs that were done since and need something that lies in it."""
    crews = {folded(place.crew): place.pk for place in places}
    runs = {run.pk: run for run in Run.objects.of(site).exclude(crew="") if folded(run.crew) in crews}
    stages = Stage.objects.of(site).filter(run__in=runs, done__gt=min(since.values())).order_by("done", "run__name")
    rows = [(crews[folded(runs[row.run_id].crew)], row) for row in stages]
    needs: dict[tuple[int, str], set[int]] = defaultdict(set)
    for run, stage, item in needs_of(site, {row.run_id for _, row in rows}):
        needs[run, stage].add(item)
    found: dict[int, list[str]] = defaultdict(list)
    for box, row in rows:
        if box in since and row.done and row.done > since[box] and held[box] & needs[row.run_id, row.stage]:
            found[box].append(f"{runs[row.run_id]}, {row.stage}")
    return found


def in_box(site: Site, place: Place) -> list[InBox]:
    """Return what lies in a box, and over which stages what is gone of it would be shared now."""
    rows = Balance.objects.of(site).filter(place=place, quantity__gt=0).select_related("item")
    lying = list(with_units(rows, site).order_by("item__code", "lot"))
    now = timezone.now()
    work = read_crew_work(site, ((place.crew, row.item, row.lot, now) for row in lying))
    return [
        InBox(row.item, row.lot, row.quantity, row.unit, tuple(f"{run}, {stage}" for run, stage in served))
        for row in lying
        for served in [work.served(place.crew, row.item, row.lot, now)]
    ]


def to_fill(site: Site) -> list[ToFill]:
    """Return what lies for every run and leaves in cases, lot by lot, the first to expire first."""
    pooled = Places(site).pooled()
    rows = Balance.objects.of(site).filter(place__in=pooled, quantity__gt=0).exclude(item__usage=Item.Usage.FIXED)
    lots = Lot.objects.of(site).filter(expires__isnull=False).values_list("item", "code", "expires")
    expires = {(item, code): day for item, code, day in lots}
    found = [
        ToFill(row.item, pooled[row.place_id], row.lot, row.quantity, row.unit, expires.get((row.item_id, row.lot)))
        for row in with_units(rows.select_related("item"), site)
    ]
    usable = [row for row in found if row.expires is None or row.expires >= site.today()]
    return sorted(usable, key=lambda row: (row.item.code, row.expires or date.max, row.lot, row.place.name))


def crew_boxes(site: Site) -> list[tuple[str, str]]:
    """Return the crews of a site, each with the name of its box, be it there or not."""
    return sorted((crew, box_of_crew(crew)) for crew in Places(site).crew_boxes().values())
