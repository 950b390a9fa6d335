"""The one read that gathers all three floors: what a site is short of, its cables, and how ready its work is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, timedelta
from fractions import Fraction
from math import floor

from kits.overview.readiness import Store, Work, ready
from kits.shortages.gather import STAGE_ORDER, Gathered, StageDates, gather
from kits.shortages.lines import CABLE_UNIT, CableLine, Missing, Reconciliation, ShortLine, StageReadiness, UnmetLength
from kits.shortages.projection import LotStock
from kits.shortages.reckoning import Terms, reckon
from reels.ledger.queries import CableEntry
from reels.ledger.queries import cables as cables_of
from takeoff.runs.models import Crossing, RunEnd
from takeoff.sites.models import Site, StageName

FIRST_FIT = "first fit, not a plan"


def reconcile(site: Site, as_of: date | None = None) -> Reconciliation:
    """
    Hold a site's books against its needs as of the end of a day, by default today on site.

    The number of queries does not depend on the number of rows. Raises BooksDoNotAddUp when an item's quantities do
    not add up, which only a broken ledger can cause.
    """
    as_of = as_of or site.today()
    gathered = gather(site, as_of)
    terms = terms_of(site, as_of)
    lines = tuple(reckon(gathered.books[key], terms) for key in gathered.items)
    cables = cables_of(site, as_of=as_of)
    return Reconciliation(
        site=site.slug,
        as_of=as_of,
        lines=lines,
        cables=tuple(cable_line(entry) for entry in cables),
        readiness=_readiness(site, gathered, lines, cables, as_of),
        currency=site.currency,
        level=terms.level,
    )


def terms_of(site: Site, as_of: date) -> Terms:
    """Return what a site sets for its shortages."""
    return Terms(
        as_of=as_of,
        buffer_days=site.buffer_days,
        level=Fraction(site.service_level),
        prior_stages=Fraction(site.prior_stages),
    )


def cable_line(entry: CableEntry) -> CableLine:
    """Return a cable's line as far as first fit can tell; what only a cut plan can say stays open."""
    unmet = tuple(UnmetLength(e.conductor.run.name, e.conductor.name, e.need) for e in entry.unmet)
    return CableLine(
        cable=entry.cable.code,
        need=entry.need,
        cut=entry.cut,
        open=entry.open,
        on_reels=entry.on_reels,
        unmet=unmet,
        method=FIRST_FIT,
        buy=None if unmet else (),
    )


def _readiness(
    site: Site, gathered: Gathered, lines: tuple[ShortLine, ...], cables: list[CableEntry], as_of: date
) -> tuple[StageReadiness, ...]:
    needs: dict[tuple[int, str], dict[str, int]] = defaultdict(dict)
    for line in lines:
        for need in line.needs:
            if need.expected:
                needs[need.run_id, need.stage][line.item.code] = need.expected
    busy = {key for takeoff in gathered.takeoffs.values() for key, (quantity, _) in takeoff.items() if quantity}
    lengths: dict[int, list[Missing]] = defaultdict(list)
    for entry in cables:
        for conductor in entry.unmet:
            lengths[conductor.conductor.run_id].append(
                Missing(entry.cable.code, conductor.conductor.name, CABLE_UNIT, conductor.need)
            )
    works = [
        _work(site, gathered, run_id, stage, needs[run_id, stage], tuple(lengths[run_id]), busy)
        for run_id in gathered.runs
        for stage in STAGE_ORDER
    ]
    return ready(
        works,
        _store(gathered),
        as_of=as_of,
        cure=timedelta(hours=site.cure_hours),
        caulked=_caulked(site),
        without_takeoff=gathered.runs.keys() - gathered.with_takeoff,
    )


def _work(
    site: Site,
    gathered: Gathered,
    run_id: int,
    stage: str,
    needs: Mapping[str, int],
    lengths: tuple[Missing, ...],
    busy: set[tuple[int, str]],
) -> Work:
    dates = gathered.stages.get((run_id, stage), StageDates())
    pulls = stage == StageName.CABLES
    return Work(
        run_id=run_id,
        run=gathered.runs[run_id],
        stage=stage,
        place=STAGE_ORDER[stage],
        planned=dates.planned,
        done=dates.done.astimezone(site.tz) if dates.done else None,
        needs=needs,
        cable=lengths if pulls else (),
        idle=not (dates.known or pulls or (run_id, stage) in busy),
    )


def _store(gathered: Gathered) -> Store:
    """Return the good stock, what stands in for an item counted as that item."""
    worth = {other: (key, each) for key, others in gathered.stand_ins.items() for other, each in others}
    pool: dict[str, list[LotStock]] = defaultdict(list)
    boxes: dict[tuple[int, str], list[LotStock]] = defaultdict(list)
    for key, balances in gathered.balances.items():
        shown, each = worth.get(key, (key, Fraction(1)))
        code = gathered.items[shown].code
        for (run_id, lot), quantity in balances.lots.items():
            shelf = pool[code] if run_id is None else boxes[run_id, code]
            shelf.append(LotStock(floor(quantity * each), gathered.expires.get((key, lot))))
    items = {i.code: Missing(i.code, i.description, i.unit, 0) for i in gathered.items.values()}
    return Store(pool, boxes, items)


def _caulked(site: Site) -> set[int]:
    """Return the runs with a seal that has to dry."""
    sealed: set[int] = set()
    for rows in (RunEnd.objects.of(site), Crossing.objects.of(site)):
        sealed.update(rows.filter(seal=RunEnd.Seal.CAULKED).values_list("run_id", flat=True))
    return sealed
