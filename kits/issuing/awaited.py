"""Which stage waits for an item that is not here: what a crew asks about while a truck is unloaded."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef

from kits.issuing.needs import handed_out_of, needs_of
from kits.issuing.pages import AHEAD
from kits.stock.models import Balance, Lot
from takeoff.runs.models import Stage
from takeoff.sites.models import GOOD_KINDS, Site
from takeoff.units.exact import to_ticks


@dataclass(frozen=True, slots=True)
class Awaiting:
    """The first stage that what is here does not serve."""

    run: str
    stage: str
    planned: date


def awaited(site: Site, items: Collection[int]) -> dict[int, Awaiting | None]:
    """
    Return by item the first stage of the next two weeks that lacks some of it, None where nobody waits for it.

    All that is usable here counts, for whichever run it lies: the shortages page tells the rest.
    """
    gone_by = Lot.objects.of(site).filter(item=OuterRef("item"), code=OuterRef("lot"), expires__lt=site.today())
    lying = Balance.objects.of(site).filter(item__in=items, place__kind__in=GOOD_KINDS).exclude(Exists(gone_by))
    here: Counter[int] = Counter()
    for item, quantity in lying.values_list("item", "quantity"):
        here[item] += to_ticks(quantity)
    soon = Stage.objects.of(site).filter(done=None, planned__lte=site.today() + AHEAD).select_related("run")
    stages = list(soon.order_by("planned", "run__name", "pk"))
    runs = {stage.run_id for stage in stages}
    needs, out = needs_of(site, runs), handed_out_of(site, runs)
    wanted: dict[tuple[int, str], list[int]] = {}
    for run, of_stage, item in needs:
        if item in items:
            wanted.setdefault((run, of_stage), []).append(item)
    found: dict[int, Awaiting | None] = dict.fromkeys(items)
    for stage in stages:
        for item in wanted.get((stage.run_id, stage.stage), ()):
            key = stage.run_id, stage.stage, item
            here[item] -= max(0, needs[key] - out[key])
            if here[item] < 0 and found[item] is None and stage.planned:
                found[item] = Awaiting(stage.run.name, stage.stage, stage.planned)
    return found
