"""Which stage waits for an item that is not here: what a crew asks about while a truck is unloaded."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
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


def awaited(site: Site, wanted: Mapping[int, Collection[int]]) -> dict[int, Awaiting | None]:
    """
    Return by item the first stage of the next two weeks that lacks some of it, None where nobody waits for it.

    wanted : by item, the runs that it would be for; none where it would be for any. Of what is usable here counts what
    such runs may draw: the shortages page tells the rest.
    """
    gone_by = Lot.objects.of(site).filter(item=OuterRef("item"), code=OuterRef("lot"), expires__lt=site.today())
    lying = Balance.objects.of(site).filter(item__in=wanted, place__kind__in=GOOD_KINDS).exclude(Exists(gone_by))
    here: Counter[int] = Counter()
    for item, owner, quantity in lying.values_list("item", "place__kit_box__kit__run", "quantity"):
        if owner is None or not wanted[item] or owner in wanted[item]:
            here[item] += to_ticks(quantity)
    soon = Stage.objects.of(site).filter(done=None, planned__lte=site.today() + AHEAD).select_related("run")
    stages = list(soon.order_by("planned", "run__name", "pk"))
    runs = {stage.run_id for stage in stages}
    needs, out = needs_of(site, runs), handed_out_of(site, runs)
    of_stage: dict[tuple[int, str], list[int]] = {}
    for run, stage_name, item in needs:
        if item in wanted and (not wanted[item] or run in wanted[item]):
            of_stage.setdefault((run, stage_name), []).append(item)
    found: dict[int, Awaiting | None] = dict.fromkeys(wanted)
    for stage in stages:
        for item in of_stage.get((stage.run_id, stage.stage), ()):
            key = stage.run_id, stage.stage, item
            here[item] -= max(0, needs[key] - out[key])
            if here[item] < 0 and found[item] is None and stage.planned:
                found[item] = Awaiting(stage.run.name, stage.stage, stage.planned)
    return found
