"""What the report of a delivery says, row by row, for its page and its workbook alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from kits.gate.models import Arrival, ArrivedPackage
from kits.receiving.counting.report import LineState
from kits.receiving.models import ReceiptLine
from kits.receiving.queries import DeliveryReport, ReportedLine, TruckReport, delivery_report
from kits.shipments.models import Shipment
from takeoff.catalogue.models import Item
from takeoff.units.exact import to_ticks

State = ArrivedPackage.State
SORTS = ("short", "over", "damaged", "refused", "wrong item", "not on the list")


@dataclass(frozen=True, slots=True)
class ReportRow:
    """
    One thing that is not as listed, or not counted yet.

    Quantities in ticks; listed is None beside the list, counted where nobody counted.
    said : what came instead, why it was refused, what was noted. by, at : who counted it last, and when.
    """

    what: str
    item: Item
    package: str
    listed: int | None
    counted: int | None
    quantity: int
    said: str = ""
    by: str = ""
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class AtGate:
    """What was said of one truck before it was signed for. missing, damaged : packages by name."""

    truck: TruckReport
    arrival: Arrival
    missing: tuple[str, ...]
    damaged: tuple[str, ...]

    @property
    def clean(self) -> bool:
        """Whether it was signed with nothing written: a clean receipt."""
        return self.arrival.words == Arrival.Words.NOTHING


@dataclass(frozen=True, slots=True)
class Counter:
    """Who counted how many lines, from when to when."""

    by: str
    lines: int
    first: datetime
    last: datetime


@dataclass(frozen=True, slots=True)
class ReportPage:
    """The report of a delivery: what was said at the gate, what was found later, what nobody counted, and who did."""

    report: DeliveryReport
    gate: tuple[AtGate, ...]
    rows: tuple[ReportRow, ...]
    uncounted: tuple[ReportRow, ...]
    counters: tuple[Counter, ...]

    @property
    def figures(self) -> list[tuple[int, str]]:
        """How many rows there are of each sort."""
        return [(count, sort) for sort in SORTS if (count := sum(row.what == sort for row in self.rows))]


def report_page(shipment: Shipment) -> ReportPage:
    """Return what the report of a shipment says."""
    report = delivery_report(shipment)
    rows = [row for listed in report.lines for row in _not_as_listed(listed)]
    rows += [_row("not on the list", count, to_ticks(count.counted)) for count in report.unlisted]
    uncounted = tuple(
        ReportRow(
            state.value,
            listed.line.item,
            _package(listed),
            listed.report.listed,
            None if state is LineState.NOT_COUNTED else listed.report.counted,
            listed.report.to_count,
        )
        for listed in report.lines
        if (state := listed.report.state) is not LineState.COUNTED
    )
    every = [*(row for listed in report.lines for row in listed.counts), *report.unlisted]
    return ReportPage(
        report,
        _gate(report),
        tuple(sorted(rows, key=lambda row: SORTS.index(row.what))),
        uncounted,
        _counters(every),
    )


def counted_by(row: ReceiptLine) -> str:
    """Return who counted, by the name that was given, else by who recorded it."""
    posting = row.receipt.posting
    return posting.by or (posting.recorded_by.get_username() if posting.recorded_by else "")


def _not_as_listed(listed: ReportedLine) -> Iterator[ReportRow]:
    """Yield what of a line is not as listed: a row for what it lacks or has too much, one for each count of others."""
    report, last = listed.report, listed.counts[-1] if listed.counts else None
    for what, quantity in (("short", report.short), ("over", report.over)):
        if quantity and last:
            yield _row(what, last, quantity, listed)
    for count in listed.counts:
        covers, counted = to_ticks(count.covers), to_ticks(count.counted)
        came = count.came_text or (count.came_item.code if count.came_item else "")
        if came and not covers and counted:
            yield _row("wrong item", count, counted, listed, f"{came} came")
        elif count.verdict == ReceiptLine.Judged.REFUSED:
            yield _row("refused", count, covers, listed, count.why)
        elif count.condition == ReceiptLine.Condition.DAMAGED and covers:
            yield _row("damaged", count, covers, listed)


def _row(what: str, count: ReceiptLine, quantity: int, listed: ReportedLine | None = None, said: str = "") -> ReportRow:
    receipt = count.receipt
    return ReportRow(
        what=what,
        item=count.item,
        package=_package(listed) if listed else receipt.package.name if receipt.package else "",
        listed=listed.report.listed if listed else None,
        counted=listed.report.counted if listed else to_ticks(count.counted),
        quantity=quantity,
        said="; ".join(filter(None, (said, count.note))),
        by=counted_by(count),
        at=receipt.posting.at,
    )


def _package(listed: ReportedLine) -> str:
    return listed.line.package.name if listed.line.package else ""


def _gate(report: DeliveryReport) -> tuple[AtGate, ...]:
    """Return what was said of each truck that somebody took in."""
    came = [(truck, truck.arrival) for truck in report.trucks if truck.arrival]
    states: dict[tuple[int, str], list[str]] = {}
    rows = ArrivedPackage.objects.of(report.shipment.site).filter(arrival__in=[arrival for _, arrival in came])
    for row in rows.select_related("package").order_by("package__name"):
        states.setdefault((row.arrival_id, row.state), []).append(row.package.name)
    return tuple(
        AtGate(
            truck,
            arrival,
            missing=tuple(states.get((arrival.pk, State.MISSING), ())),
            damaged=tuple(states.get((arrival.pk, State.DAMAGED), ())),
        )
        for truck, arrival in came
    )


def _counters(rows: Sequence[ReceiptLine]) -> tuple[Counter, ...]:
    """Return who counted, by name."""
    by: dict[str, list[datetime]] = {}
    for row in rows:
        by.setdefault(counted_by(row), []).append(row.receipt.posting.at)
    return tuple(Counter(name, len(at), min(at), max(at)) for name, at in sorted(by.items()))
