"""What is due on a site and what does not fit together, and in which order a role reads it. Pure: no Django."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from kits.pulling.sets_here import SetToPull
from kits.shortages.reckon.arrivals import StageLine, stage_lines
from kits.shortages.reckon.lines import Reconciliation, ShortItem, ShortLine, StageNeed, UnmetLength
from kits.shortages.told.of_stage import needs_a_permit
from kits.shortages.told.rounded import rounded_line

AHEAD = timedelta(days=14)
MOST = 8

CABLES = "cables"
PULL = "pull"
WORK, DELIVERIES, CLAIMS, CABLE = "work", "deliveries", "claims", "cable"
SHORTAGES, EXPEDITE, USE, ORDERS = "shortages", "expedite", "use", "orders"
ORDER = {
    "storekeeper": (DELIVERIES, CLAIMS, WORK, USE, SHORTAGES, EXPEDITE, CABLE),
    "foreman": (PULL, WORK, USE, CABLE, DELIVERIES, SHORTAGES, EXPEDITE, CLAIMS),
    "purchaser": (SHORTAGES, ORDERS, EXPEDITE, CLAIMS, DELIVERIES, CABLE, WORK, USE),
    "planner": (WORK, PULL, USE, SHORTAGES, ORDERS, EXPEDITE, CABLE, DELIVERIES, CLAIMS),
    "viewer": (WORK, SHORTAGES, EXPEDITE, DELIVERIES, CLAIMS, CABLE, USE),
}


@dataclass(frozen=True, slots=True)
class ToCome:
    """
    What one shipment or order is still to bring, and on which day.

    late : the day is past and nothing of it was counted. begun : it is here, and some of it is still to be counted.
    """

    kind: str
    name: str
    on: date | None
    items: tuple[ShortItem, ...]
    late: bool
    begun: bool


@dataclass(frozen=True, slots=True)
class UnmetRun:
    """The conductors of one run and cable that no reel here can serve, or that wait for a reel. Lengths in ticks."""

    run: str
    cable: str
    waits_for: str
    names: tuple[str, ...]
    longest: int


@dataclass(frozen=True, slots=True)
class AskedStage:
    """A stage that is done with nothing handed out of some items: what did it use of them?"""

    run_id: int
    run: str
    stage: str
    needs: tuple[tuple[ShortItem, StageNeed], ...]


@dataclass(frozen=True, slots=True)
class Due:
    """
    What is due. `order` names the parts in the order in which the role reads them.

    work : open stages planned up to two weeks ahead, with what they lack. pull : sets with everything
    here. shortages : to order, by the day.
    expedite : of which something on the way is to come sooner. more_short, more_work : how many further there
    are. use : finished stages whose use nobody has told. overdue : how many items and cables were to be
    ordered by now.
    """

    as_of: date
    order: tuple[str, ...]
    overdue: int
    work: tuple[StageLine, ...]
    more_work: int
    pull: tuple[SetToPull, ...]
    deliveries: tuple[ToCome, ...]
    shortages: tuple[ShortLine, ...]
    more_short: int
    expedite: tuple[ShortLine, ...]
    cable: tuple[UnmetRun, ...]
    use: tuple[AskedStage, ...]

    @property
    def late(self) -> int:
        """How many deliveries are late."""
        return sum(row.late for row in self.deliveries)

    @property
    def begun(self) -> int:
        """How many deliveries are counted in part."""
        return sum(row.begun for row in self.deliveries)

    @property
    def needs_a_permit(self) -> bool:
        """Whether some of the work is done where something may be live."""
        return needs_a_permit([line.row for line in self.work])

    @property
    def without_cable(self) -> int:
        """How many runs lack cable that no reel here or on the way gives."""
        return len({row.run for row in self.cable if not row.waits_for})


def due(found: Reconciliation, roles: frozenset[str], to_pull: Iterable[SetToPull] = ()) -> Due:
    """Return what is due on the day of the reconciliation, the parts in the order of the first of `roles`."""
    soon = found.as_of + AHEAD
    work = sorted(
        (
            line
            for line in stage_lines(found.readiness, found.lines)
            if not line.row.done and line.row.planned and line.row.planned <= soon
        ),
        key=lambda line: (line.row.planned or date.max, line.row.run),
    )
    short = tuple(line for line in found.short_lines if line.order)
    first = next((role for role in ORDER if role in roles), "viewer")
    return Due(
        as_of=found.as_of,
        order=ORDER[first],
        overdue=sum(day < found.as_of for day in _order_days(found)),
        work=tuple(work[:MOST]),
        more_work=max(0, len(work) - MOST),
        pull=tuple(one for one in to_pull if one.all_here),
        deliveries=arrivals(found),
        shortages=tuple(rounded_line(line) for line in short[:MOST]),
        more_short=max(0, len(short) - MOST),
        expedite=tuple(rounded_line(line) for line in found.late_lines),
        cable=_unmet(found),
        use=asked_stages(found.lines),
    )


def asked_stages(lines: Iterable[ShortLine]) -> tuple[AskedStage, ...]:
    """Return the stages that are asked what they used, by run, with the items in question by code."""
    asked: dict[tuple[str, int, str], list[tuple[ShortItem, StageNeed]]] = defaultdict(list)
    for line in lines:
        for need in line.needs:
            if need.asked and not need.in_box:
                asked[need.run, need.run_id, need.stage].append((line.item, need))
    return tuple(AskedStage(run_id, run, stage, tuple(needs)) for (run, run_id, stage), needs in sorted(asked.items()))


def _order_days(found: Reconciliation) -> list[date]:
    """Return the last day to order of each item and cable that is to be ordered and has one."""
    items = [line.order_by for line in found.lines if line.order]
    cables = [cable.order_by for cable in found.cables if cable.order]
    return [day for day in (*items, *cables) if day]


def arrivals(found: Reconciliation) -> tuple[ToCome, ...]:
    """Return the shipments and orders that are still to come, by day, undated ones last."""
    items: dict[tuple[str, str, date | None], dict[int, ShortItem]] = defaultdict(dict)
    late: set[tuple[str, str, date | None]] = set()
    begun: set[tuple[str, str, date | None]] = set()
    for line in found.lines:
        for delivery in line.deliveries:
            key = (delivery.kind, delivery.name, delivery.on)
            items[key][line.item.id] = line.item
            late.update({key} if delivery.late else ())
            begun.update({key} if delivery.begun else ())
    rows = [
        ToCome(*key, items=tuple(named.values()), late=key in late, begun=key in begun) for key, named in items.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.on is None, row.on or date.max, row.name)))


def _unmet(found: Reconciliation) -> tuple[UnmetRun, ...]:
    by_run: dict[tuple[str, str, str], list[UnmetLength]] = defaultdict(list)
    for cable in found.cables:
        for length in cable.unmet:
            by_run[length.run, cable.cable, length.waits_for].append(length)
    return tuple(
        UnmetRun(*key, tuple(one.conductor for one in lengths), max(one.length for one in lengths))
        for key, lengths in sorted(by_run.items())
    )


def questions(stage: str, done: Mapping[str, bool], *, uncut: int, conductors: int) -> tuple[str, ...]:
    """
    Return what is to be asked before a stage is reported as done; the rest is told of `remarks`.

    >>> questions("seals", {"enclosure": True, "cables": False, "seals": False}, uncut=12, conductors=18)
    ('Not done yet: cables.',)
    """
    names = list(done)
    earlier = [name for name in names[: names.index(stage)] if not done[name]]
    asked = [f"Not done yet: {', '.join(earlier)}."] if earlier else []
    if stage == CABLES and uncut:
        asked.append(f"{uncut} of {conductors} conductors have no recorded cut.")
    return tuple(asked)


def remarks(done: Mapping[str, bool], *, uncut: int, conductors: int) -> dict[str, str]:
    """
    Return by stage what should be looked at again; what was reported is kept all the same.

    done : whether each stage is done, in the order of the work, stages with nothing to do left out. uncut : how many
    of the `conductors` have no recorded cut.

    >>> remarks({"cables": True, "seals": False, "covers": True}, uncut=12, conductors=18)
    {'cables': '12 of 18 conductors have no recorded cut', 'seals': 'open, though covers are done'}
    """
    found = {}
    names = list(done)
    for place, stage in enumerate(names):
        later = [name for name in names[place + 1 :] if done[name]]
        if stage == CABLES and done[stage] and uncut:
            found[stage] = f"{uncut} of {conductors} conductors have no recorded cut"
        elif not done[stage] and later:
            found[stage] = f"open, though {' and '.join(later)} are done"
    return found
