"""What crews' gang boxes say of an item: which stages a count served, and which were done since it was counted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Max, Q
from django.db.models.functions import Coalesce

from kits.stock.models import BinCount, Move
from takeoff.database.folding import folded
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site

ItemStage = tuple[int, int, str]  # item, run, stage


@dataclass(frozen=True, slots=True)
class BoxReading:
    """
    The gang boxes of a site as of a moment, by primary keys.

    of_run : the name of its crew's box. served : the counts, by key, that gave a stage of the item that was gone.
    counted : when an item was last counted in a box, by the name of that.
    """

    of_run: Mapping[int, str] = field(default_factory=dict)
    served: Mapping[ItemStage, frozenset[int]] = field(default_factory=dict)
    counted: Mapping[tuple[str, int], datetime] = field(default_factory=dict)


def read_gang_boxes(site: Site, end: datetime) -> BoxReading:
    """Return what the gang boxes of a site say as of a moment: in one query where there are none."""
    places = list(Place.objects.of(site).filter(kind=Place.Kind.GANG_BOX))
    if not places:
        return BoxReading()
    boxes = {place.pk: place.name for place in places}
    named = {folded(place.crew): place.name for place in places}
    runs = Run.objects.of(site).exclude(crew="").values_list("pk", "crew")
    counts = BinCount.objects.of(site).filter(_standing("posting", end), place__in=boxes).order_by()
    last = counts.values("place", "item").annotate(at=Max("posting__at")).values_list("place", "item", "at")
    return BoxReading(
        of_run={run: named[folded(crew)] for run, crew in runs if folded(crew) in named},
        served=_served(site, list(boxes), end),
        counted={(boxes[place], item): at for place, item, at in last},
    )


def _served(site: Site, boxes: list[int], end: datetime) -> dict[ItemStage, frozenset[int]]:
    found: dict[ItemStage, set[int]] = defaultdict(set)
    own = Q(_standing("posting", end), posting__restores=None) | Q(_standing("posting__restores", end))
    moves = Move.objects.of(site).filter(own, source__in=boxes, target__kind=Place.Kind.HANDED_OUT).order_by()
    count = Coalesce("posting__restores", "posting")
    rows = moves.values_list("item", "target__run", "target__stage", count).distinct()
    for item, run, stage, posting in rows:
        found[item, run, stage].add(posting)
    return {key: frozenset(postings) for key, postings in found.items()}


def _standing(posting: str, end: datetime) -> Q:
    """Return what lets through postings up to a moment that were not taken back by then."""
    back = Q(**{f"{posting}__reversed_by": None}) | Q(**{f"{posting}__reversed_by__at__gte": end})
    return back & Q(**{f"{posting}__at__lt": end})
