"""The one read that gathers all three floors: what a site is short of, its cables, and how ready its work is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, timedelta
from fractions import Fraction
from functools import partial
from math import floor

from kits.shortages.cable_reading import cable_wares, reels_on_order
from kits.shortages.item_books import STAGE_ORDER, SiteReading, StageDates, read_item_books
from kits.shortages.reckon.cables import CablePlan, CableYard, OpenLength, cable_line
from kits.shortages.reckon.item import Terms, reckon
from kits.shortages.reckon.lines import (
    CABLE_UNIT,
    CableLine,
    Missing,
    Reconciliation,
    ShortLine,
    StageReadiness,
    UnmetLength,
)
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.readiness import Store, Work, ready
from kits.shortages.reckon.working_days import WorkingDays
from reels.ledger.entries import Ledger
from reels.ledger.models import Reel
from reels.ledger.queries import cables as cable_entries
from reels.ledger.queries import ledger
from reels.planner.grid import GRIDS
from reels.planner.options import Options, usual_rates
from reels.plans.models import CutPlan
from reels.plans.queries import staleness
from reels.plans.site_problem import Standing, name_of, read_standing, solve
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Crossing, RunEnd
from takeoff.runs.queries import length_standings
from takeoff.sites.models import Site, StageName

FOOT = 3_048_000  # ticks of a millimetre
SECONDS_PER_CABLE = 0.1  # what a page waits for a cut plan that is not stored


def reconcile(site: Site, as_of: date | None = None, *, seconds_per_cable: float = SECONDS_PER_CABLE) -> Reconciliation:
    """
    Hold a site's books against its needs as of the end of a day, by default today on site.

    seconds_per_cable : how long to plan a cable that no stored cut plan fits; by default as long as a page may wait.
    The number of queries does not depend on the number of rows. Raises
    BooksDoNotAddUp when an item's quantities do not add up, which only a broken ledger can cause.
    """
    as_of = as_of or site.today()
    gathered = read_item_books(site, as_of)
    terms = terms_of(site, as_of)
    lines = tuple(reckon(gathered.books[key], terms) for key in gathered.items)
    cables = cable_lines(site, as_of, seconds_per_cable=seconds_per_cable)
    return Reconciliation(
        site=site.slug,
        as_of=as_of,
        lines=lines,
        cables=cables,
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
        working_days=working_days_of(site),
    )


def working_days_of(site: Site) -> WorkingDays:
    """Return the working days of a site."""
    return WorkingDays(tuple(date.fromisoformat(day) for day in site.holidays))


def cable_lines(site: Site, as_of: date, *, seconds_per_cable: float = SECONDS_PER_CABLE) -> tuple[CableLine, ...]:
    """
    Return the line of every cable, by code: by its accepted cut plan, else the proposed one, else one worked out now.

    In a constant number of queries.
    """
    books, standing = ledger(site, as_of=as_of), read_standing(site)
    plans, wares = _plans(site, books, standing), cable_wares(site)
    on_order = reels_on_order(site, [entry.reel for entry in books.reels])
    lines, days = [], working_days_of(site)
    for entry in cable_entries(site, as_of=as_of, books=books):
        yard = CableYard(
            cable=entry.cable.code,
            need=entry.need,
            cut=entry.cut,
            on_reels=entry.on_reels,
            open=tuple(
                OpenLength(
                    key=one.conductor.pk,
                    run_id=one.conductor.run_id,
                    run=one.conductor.run.name,
                    conductor=one.conductor.name,
                    need=one.need,
                    planned=standing.planned.get(one.conductor.run_id),
                )
                for one in books.open_of(entry.cable.pk)
            ),
            here=_usable(books, entry.cable, Reel.State.ON_SITE),
            coming=_usable(books, entry.cable, Reel.State.ON_THE_WAY),
            ware=wares[entry.cable.pk],
            on_order=on_order.get(entry.cable.pk, ()),
        )
        work_out = partial(_worked_out, site, entry.cable, books, standing, seconds_per_cable)
        stored = plans.get(entry.cable.pk, [])
        lines.append(cable_line(yard, stored, work_out, as_of=as_of, buffer_days=site.buffer_days, working_days=days))
    return tuple(lines)


def _usable(books: Ledger, cable: Cable, state: str) -> dict[str, int]:
    """Return what can be relied on of each reel of a cable that is in this state, by tag."""
    reels = (entry for entry in books.reels if entry.reel.cable_id == cable.pk and entry.reel.state == state)
    return {entry.reel.tag: entry.usable for entry in reels if entry.usable}


def _worked_out(site: Site, cable: Cable, books: Ledger, standing: Standing, seconds: float) -> CablePlan:
    """Plan a cable now, without storing it."""
    answer = solve(site, cable, Options(usual_rates(site.unit), seconds=seconds), books=books, standing=standing)
    problem, found = answer.gathered.problem, answer.plan
    cost, bound = found.cost, found.bounds.cost
    return CablePlan(
        name="cut plan worked out now",
        cuts={e.conductor.pk: reel.reel.tag for reel, entries in answer.shares.cuts for e in entries},
        unmet={name_of(entry.conductor): entry.need for entry in answer.shares.uncut},
        reels=frozenset(answer.gathered.reels),
        buy=answer.shares.buy,
        scrap=_feet(problem.unit.feet(found.levels.scrap)),
        remnants=found.levels.remnants,
        bound=_feet(bound),
        gap=None if bound is None else _feet(cost - bound),
        proven=found.stopped == CutPlan.Stopped.PROVEN,
        buy_for=frozenset(answer.buy_for),
    )


def _plans(site: Site, books: Ledger, standing: Standing) -> dict[int, list[CablePlan]]:
    """Return the accepted plan of each cable, then the proposed one; of a stale one nothing is proven any more."""
    found: dict[int, list[CablePlan]] = defaultdict(list)
    states = [CutPlan.State.ACCEPTED, CutPlan.State.PROPOSED]  # in the order of their names, too
    rows = CutPlan.objects.of(site).filter(state__in=states).order_by("state", "-asked_at")
    for row in rows.select_related("site", "cable").prefetch_related("cuts__reel"):
        scrap, gap = _feet(row.levels.get("scrapFeet")), None
        if scrap is not None:
            # Stored in feet to 1/10 000, and whole steps of the grid in truth.
            grids = {grid.unit.label: grid.step for grid in GRIDS.values()}
            step = grids.get(row.inputs.get("settings", {}).get("planning grid"), 1)
            scrap = round(Fraction(scrap, step)) * step
        holds_as_proven = not staleness(row, books=books, standing=standing).off_plan
        bound = row.cost_bound if holds_as_proven else None
        if row.cost is not None and bound is not None:
            gap = max(0.0, row.cost - bound)
        found[row.cable_id].append(
            CablePlan(
                name=f"{row.get_state_display().lower()} cut plan",
                cuts={cut.conductor_id: cut.reel.tag for cut in row.cuts.all()},
                unmet={(run, conductor): length for run, conductor, length in row.unmet},
                reels=frozenset(row.inputs.get("reels", {})),
                buy=tuple((length, count) for length, count in row.buy),
                scrap=scrap,
                remnants=row.levels.get("remnants"),
                bound=_feet(bound),
                gap=_feet(gap),
                proven=holds_as_proven and row.stopped == CutPlan.Stopped.PROVEN,
                # A proposal is what could be decided, and nobody has decided to wait yet.
                waits=row.with_coming and row.state == CutPlan.State.ACCEPTED,
                buy_for=frozenset(row.buy_for),
            )
        )
    return found


def _feet(feet: Fraction | float | None) -> int | None:
    """Return feet as ticks of a millimetre, to the nearest."""
    return None if feet is None else round(Fraction(feet) * FOOT)


def _readiness(
    site: Site, gathered: SiteReading, lines: tuple[ShortLine, ...], cables: tuple[CableLine, ...], as_of: date
) -> tuple[StageReadiness, ...]:
    needs: dict[tuple[int, str], dict[str, int]] = defaultdict(dict)
    for line in lines:
        for need in line.needs:
            if need.expected:
                needs[need.run_id, need.stage][line.item.code] = need.expected
    busy = {key for takeoff in gathered.takeoffs.values() for key, (quantity, _) in takeoff.items() if quantity}
    lengths: dict[int, list[Missing]] = defaultdict(list)
    for cable in cables:
        for unmet in cable.unmet:
            lengths[unmet.run_id].append(_length(cable, unmet))
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
        unmeasured={run for run, length in length_standings(site, gathered.runs).items() if not length.measured},
    )


def _length(cable: CableLine, unmet: UnmetLength) -> Missing:
    return Missing(cable.cable, unmet.conductor, CABLE_UNIT, unmet.length, waits_for=unmet.waits_for)


def _work(
    site: Site,
    gathered: SiteReading,
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
        gang_box=gathered.boxes.of_run.get(run_id, ""),
    )


def _store(gathered: SiteReading) -> Store:
    """Return the good stock, what stands in for an item counted as that item."""
    worth = {other: (key, each) for key, others in gathered.stand_ins.items() for other, each in others}
    pool: dict[str, list[LotStock]] = defaultdict(list)
    boxes: dict[tuple[int, str], list[LotStock]] = defaultdict(list)
    gang_boxes: dict[tuple[str, str], list[LotStock]] = defaultdict(list)
    for key, balances in gathered.balances.items():
        shown, each = worth.get(key, (key, Fraction(1)))
        code = gathered.items[shown].code
        for (owner, lot), quantity in balances.lots.items():
            if isinstance(owner, str):
                shelf = gang_boxes[owner, code]
            else:
                shelf = pool[code] if owner is None else boxes[owner, code]
            expires, fits = gathered.expires.get((key, lot)), gathered.fits(key, lot)
            shelf.append(LotStock(floor(quantity * each), expires, fits))
    items = {i.code: Missing(i.code, i.description, i.unit, 0) for i in gathered.items.values()}
    return Store(pool, boxes, items, gang_boxes)


def _caulked(site: Site) -> set[int]:
    """Return the runs with a seal that has to dry."""
    sealed: set[int] = set()
    for rows in (RunEnd.objects.of(site), Crossing.objects.of(site)):
        sealed.update(rows.filter(seal=RunEnd.Seal.CAULKED).values_list("run_id", flat=True))
    return sealed
