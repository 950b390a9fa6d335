"""Which stages the goods of a crew's gang box have gone to since it was counted last."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, Min, QuerySet

from kits.issuing.needs import Need, needs_of
from kits.stock.models import BinCount, Move
from kits.stock.queries import reversals
from takeoff.catalogue.models import Item
from takeoff.database.folding import folded
from takeoff.runs.models import Run, Stage
from takeoff.sites.models import Place, Site, StageName

# How long ago a box was filled of which nobody has told yet: it leaves in cases for a week.
FILLED_FOR = timedelta(days=7)
Work = tuple[Run, str]  # a run and one of its stages
Lying = tuple[str, int, str]  # the crew, folded, with an item and its lot in its box


@dataclass(frozen=True, slots=True)
class CrewWork:
    """
    What crews have worked on.

    runs : by crew, folded. done, begun : when stages were done, and something was first handed out to them, by run and
    stage. needs : what they need of items [ticks]. counted : when what lies in the crews' boxes was counted, or filled
    in first.
    """

    site: Site
    runs: Mapping[str, Sequence[Run]]
    done: Mapping[tuple[int, str], datetime]
    begun: Mapping[tuple[int, str], datetime]
    needs: Counter[Need]
    counted: Mapping[Lying, Collection[datetime]]

    def served(self, crew: str, item: Item, lot: str, at: datetime) -> list[Work]:
        """Return the stages that need the item and were done since the count before `at`, or are open and begun."""
        before = [moment for moment in self.counted.get((folded(crew), item.pk, lot), ()) if moment < at]
        since = max(before, default=at - FILLED_FOR)
        return [
            (run, stage)
            for run in self.runs.get(folded(crew), ())
            for stage in StageName.values
            if self.needs[run.pk, stage, item.pk] and self._was_worked_on(run, stage, since, at)
        ]

    def _was_worked_on(self, run: Run, stage: str, since: datetime, at: datetime) -> bool:
        done = self.done.get((run.pk, stage))
        # A date alone is the end of that day: whoever counts on that day has seen it done.
        if done is None or done_day(self.site, done) > self.site.local_date(at):
            begun = self.begun.get((run.pk, stage))
            return begun is not None and begun < at
        return done > since


def done_day(site: Site, done: datetime) -> date:
    """Return the day on which a stage was done; midnight is the end of the day before."""
    return site.local_date(done - timedelta(seconds=1))


def read_crew_work(site: Site, asked: Iterable[tuple[str, Item, str, datetime]]) -> CrewWork:
    """Return what some crews have worked on, for counts of an item and lot in their boxes at some moments."""
    asked = list(asked)
    crews, items = {folded(crew) for crew, *_ in asked}, {item.pk for _, item, _, _ in asked}
    runs: dict[str, list[Run]] = defaultdict(list)
    for run in Run.objects.of(site).exclude(crew="").order_by("name"):
        if folded(run.crew) in crews:
            runs[folded(run.crew)].append(run)
    keys = {run.pk for mine in runs.values() for run in mine}
    stages = Stage.objects.of(site).filter(run__in=keys, done__isnull=False)
    places = Place.objects.of(site).filter(kind=Place.Kind.HANDED_OUT, run__in=keys)
    works = {pk: (run, stage) for pk, run, stage in places.values_list("pk", "run", "stage") if run}
    stands = ~Exists(reversals(site))
    out = Move.objects.of(site).filter(stands, target__in=works).order_by().values("target")
    counted: dict[Lying, set[datetime]] = defaultdict(set)
    for crew, item, lot, at in asked:
        counted[folded(crew), item.pk, lot].add(at)
    boxes = {pk: folded(crew) for pk, crew in gang_boxes(site).values_list("pk", "crew") if folded(crew) in crews}
    counts = BinCount.objects.of(site).filter(stands, place__in=boxes, item__in=items)
    fills = Move.objects.of(site).filter(stands, target__in=boxes, item__in=items).order_by()
    first = fills.values("target", "item", "lot").annotate(at=Min("posting__at"))
    for box, key, code, moment in (
        *counts.values_list("place", "item", "lot", "posting__at"),
        *first.values_list("target", "item", "lot", "at"),
    ):
        counted[boxes[box], key, code].add(moment)
    return CrewWork(
        site=site,
        runs=runs,
        done={(run, stage): done for run, stage, done in stages.values_list("run", "stage", "done") if done},
        begun={works[place]: at for place, at in out.annotate(at=Min("posting__at")).values_list("target", "at")},
        needs=needs_of(site, keys),
        counted=counted,
    )


def gang_boxes(site: Site) -> QuerySet[Place]:
    """Return the gang boxes of a site's crews, by name."""
    return Place.objects.of(site).filter(kind=Place.Kind.GANG_BOX).order_by("name")
