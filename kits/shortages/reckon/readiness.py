"""
Whether the work of each stage can begin: what is here for it, what is not, and what has to happen first.

Stock is given out in the order in which the work is planned. Quantities are whole ticks of each item's unit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta

from kits.shortages.reckon.lines import Missing, StageReadiness
from kits.shortages.reckon.projection import LotStock

DONE, READY, BUT_FOR, BLOCKED = "done", "ready", "ready but for", "blocked by"
NO_TAKEOFF = "no takeoff"
CABLES, SEALS, TERMINATIONS = "cables", "seals", "terminations"


@dataclass(frozen=True, slots=True)
class Work:
    """
    A stage of a run.

    place : its place in the order of stages, 0 first. done : the moment it was done, None while it is open.
    needs : what it still needs, by item [ticks]. cable : lengths that it needs and no reel has. idle : nothing is
    to be done in it, so that no later stage waits for it. Of a stage that is done, needs are what it may have used,
    though nothing was handed out to it: that comes off the stock first, on the day it was done. gang_box : the name of
    its crew's.
    """

    run_id: int
    run: str
    stage: str
    place: int
    planned: date | None = None
    done: datetime | None = None
    needs: Mapping[str, int] = field(default_factory=dict)
    cable: tuple[Missing, ...] = ()
    idle: bool = False
    gang_box: str = ""


@dataclass(frozen=True, slots=True)
class Store:
    """
    Good stock: `pool` by item, for whoever comes first; `boxes` by run and item, for that run only.

    gang_boxes : by name of the box and item, for the runs of its crew only. items : what is missing is named by;
    description and unit, no quantity.
    """

    pool: Mapping[str, Sequence[LotStock]]
    boxes: Mapping[tuple[int, str], Sequence[LotStock]]
    items: Mapping[str, Missing]
    gang_boxes: Mapping[tuple[str, str], Sequence[LotStock]] = field(default_factory=dict)


def ready(
    works: Sequence[Work],
    store: Store,
    *,
    as_of: date,
    cure: timedelta = timedelta(hours=24),
    caulked: Collection[int] = (),
    without_takeoff: Collection[int] = (),
    unmeasured: Collection[int] = (),
) -> tuple[StageReadiness, ...]:
    """
    Return how ready each stage is, by run and stage.

    cure : how long a caulked seal dries before the run may be energized (24 h: common practice; the sealant's data
    sheet governs). caulked : runs that have such a seal. without_takeoff : runs of which nobody knows the needs.
    unmeasured : runs of which nobody has measured how long they turned out.

    Gang boxes serve their crew's runs and kit boxes their own; after them the pool is given out by planned date
    (undated last), then run, then stage, each lot only to work on or before its last day, first expired first. A stage
    waits for the earlier ones.
    """
    missing = _give_out(works, store, as_of)
    open_before = _open_before(works)
    rows = []
    for work in sorted(works, key=lambda w: (w.run, w.run_id, w.place)):
        key = work.run_id, work.stage
        first = open_before[key]
        if work.run_id in without_takeoff:
            first = (NO_TAKEOFF, *first)
        lacking = (*missing.get(key, ()), *work.cable) if work.done is None else ()
        rows.append(
            StageReadiness(
                run_id=work.run_id,
                run=work.run,
                stage=work.stage,
                planned=work.planned,
                state=_state(work, first, lacking),
                blocked_by=first if work.done is None else (),
                missing=lacking,
                not_before=_dry(work.done, cure)
                if work.done and work.stage == SEALS and work.run_id in caulked
                else None,
                idle=work.idle,
                unmeasured=work.stage == CABLES and work.run_id in unmeasured,
            )
        )
    return tuple(rows)


def _dry(done: datetime, cure: timedelta) -> datetime:
    """
    Return when a seal is dry, up to a whole minute, so that the last moment of a day reads as midnight.

    Hours are added in UTC: over the spring clock change 24 hours on the wall are 23 of drying.
    """
    moment = (done.astimezone(UTC) + cure).astimezone(done.tzinfo)
    whole = moment.replace(second=0, microsecond=0)
    return whole if whole == moment else whole + timedelta(minutes=1)


def _state(work: Work, first: Collection[str], lacking: Collection[Missing]) -> str:
    if work.done is not None:
        return DONE
    if first:
        return BLOCKED
    return BUT_FOR if lacking else READY


def _open_before(works: Iterable[Work]) -> dict[tuple[int, str], tuple[str, ...]]:
    by_run: dict[int, list[Work]] = defaultdict(list)
    for work in works:
        by_run[work.run_id].append(work)
    return {
        (run_id, work.stage): tuple(
            before.stage
            for before in sorted(stages, key=lambda w: w.place)
            if before.place < work.place and before.done is None and not before.idle
        )
        for run_id, stages in by_run.items()
        for work in stages
    }


def _give_out(works: Sequence[Work], store: Store, as_of: date) -> dict[tuple[int, str], tuple[Missing, ...]]:
    pool = {item: _Shelf(lots) for item, lots in store.pool.items()}
    boxes = {key: _Shelf(lots) for key, lots in store.boxes.items()}
    gang_boxes = {key: _Shelf(lots) for key, lots in store.gang_boxes.items()}
    missing: dict[tuple[int, str], tuple[Missing, ...]] = {}
    days = {(w.run_id, w.stage): w.done.date() if w.done else w.planned for w in works}
    turns = sorted(works, key=lambda w: (*_turn(days[w.run_id, w.stage]), w.run, w.run_id, w.place))
    for work in turns:
        day = max(as_of, days[work.run_id, work.stage] or as_of)
        lacking = []
        for item in sorted(work.needs):
            left = work.needs[item]
            for shelf in (gang_boxes.get((work.gang_box, item)), boxes.get((work.run_id, item)), pool.get(item)):
                left -= shelf.take(left, day, work.run_id) if shelf else 0
            if left > 0:
                lacking.append(replace(store.items[item], quantity=left))
        missing[work.run_id, work.stage] = tuple(lacking)
    spare: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for (box, item), shelf in sorted(gang_boxes.items()):
        if left := shelf.left(as_of):
            spare[item].append((box, left))
    return {
        key: tuple(replace(one, in_boxes=tuple(spare[one.item])) if one.item in spare else one for one in lacking)
        for key, lacking in missing.items()
    }


def _turn(day: date | None) -> tuple[bool, date]:
    return day is None, day or date.min


class _Shelf:
    """Lots of an item at one kind of place, taken first expired first."""

    def __init__(self, lots: Iterable[LotStock]) -> None:
        self._left: dict[tuple[date, frozenset[int] | None], int] = defaultdict(int)
        for lot in lots:
            self._left[lot.expires or date.max, lot.fits] += lot.quantity

    def left(self, day: date) -> int:
        """Return how much is left that can still be used on a day."""
        return sum(quantity for (expires, _), quantity in self._left.items() if expires >= day)

    def take(self, wanted: int, day: date, run: int) -> int:
        """Take up to `wanted` of what fits a run and can still be used on `day`, and return how much that was."""
        taken = 0
        # Of what is made for runs, first what fits the fewest.
        for expires, fits in sorted(self._left, key=lambda lot: (lot[0], len(lot[1] or ()), sorted(lot[1] or ()))):
            if expires >= day and (fits is None or run in fits):
                part = min(wanted - taken, self._left[expires, fits])
                self._left[expires, fits] -= part
                taken += part
        return taken
