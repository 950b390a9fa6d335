"""Stages that are done and were handed more than they need: what is left of it, and can come back?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists

from kits.issuing.needs import handed_out_of, needs_of
from kits.stock.models import Move, Posting
from kits.stock.queries import reversals
from takeoff.runs.models import Run, Stage
from takeoff.sites.models import Place, Site

ASKED_FOR = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A stage that was done lately. items : how many it was handed more of than it needs."""

    run: Run
    stage: str
    done: date
    items: int


def leftovers(site: Site) -> list[LeftOver]:
    """Return the stages done in the last two weeks that may have something left, until something of it comes back."""
    since = site.start_of(site.today() - ASKED_FOR)
    done = Stage.objects.of(site).filter(done__gte=since).select_related("run").order_by("-done", "run__name", "pk")
    stages = list(done)
    runs = {stage.run_id for stage in stages}
    needs, out = needs_of(site, runs), handed_out_of(site, runs)
    back = Move.objects.of(site).filter(posting__kind=Posting.Kind.RETURN, posting__at__gte=since, source__run__in=runs)
    told = {
        (run, of_stage): at
        for run, of_stage, at in back.filter(~Exists(reversals(site)))
        .order_by("posting__at")
        .values_list("source__run", "source__stage", "posting__at")
    }
    # What a crew's gang box gave was counted: all of it is used.
    boxed = Move.objects.of(site).filter(source__kind=Place.Kind.GANG_BOX, target__run__in=runs).order_by()
    counted = set(boxed.values_list("target__run", "target__stage", "item").distinct())
    items: Counter[tuple[int, str]] = Counter()
    for need, handed in out.items():
        items[need[:2]] += handed > needs[need] and need not in counted
    found = []
    for row in stages:
        key = row.run_id, row.stage
        if items[key] and row.done and (key not in told or told[key] < row.done):
            found.append(LeftOver(row.run, row.stage, site.local_date(row.done), items[key]))
    return found
