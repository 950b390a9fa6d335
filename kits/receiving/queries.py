"""Reads about deliveries: over, short and damaged, the dates that matter, and the three-way match."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import models

from kits.gate.models import Arrival
from kits.gate.queries import arrivals_of
from kits.orders.models import Order, OrderLine
from kits.receiving.counting.by_truck import Found, found_by_truck, how_many
from kits.receiving.counting.dates import Deadlines, deadlines
from kits.receiving.counting.report import Count, LineReport, Match, Sort, line_report, match_of
from kits.receiving.models import ReceiptLine
from kits.shipments.models import PackingLine, Shipment
from kits.stock.models import Posting
from kits.stock.queries import reversals
from takeoff.catalogue.models import Item, Supplier
from takeoff.database.bulk import CHUNK
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks

Condition = ReceiptLine.Condition
REPLACED = Posting.Kind.REPLACED
WHO = ("receipt__posting__recorded_by",)


@dataclass(frozen=True, slots=True)
class ReportedLine:
    """A line of a packing list with its report, and the counts that it is made of, in their order."""

    line: PackingLine
    report: LineReport
    counts: tuple[ReceiptLine, ...]


@dataclass(frozen=True, slots=True)
class TruckReport:
    """
    What one truck brought that is not as listed.

    arrival : None where nobody took a truck in: the first count stands for it. since : when it came, the earliest that
    it can have been. dates : by when concealed damage is to be reported and a claim filed. Visible damage, shortage and
    excess belong on the delivery receipt before it is signed.
    """

    arrival: Arrival | None
    since: datetime
    delivered: date
    dates: Deadlines
    found: tuple[tuple[PackingLine, Found], ...]

    @property
    def what(self) -> list[tuple[str, int]]:
        """How many lines are short, damaged and so on."""
        return how_many(found for _, found in self.found)


@dataclass(frozen=True, slots=True)
class DeliveryReport:
    """
    What a shipment brought against its packing list.

    unlisted : counts of what the list does not name. trucks : in the order in which they came; none before the first.
    """

    shipment: Shipment
    lines: tuple[ReportedLine, ...]
    unlisted: tuple[ReceiptLine, ...]
    trucks: tuple[TruckReport, ...]

    @property
    def exceptions(self) -> tuple[ReportedLine, ...]:
        """The lines that are over, short, damaged, refused or wrong."""
        return tuple(line for line in self.lines if line.report.has_exception)

    @property
    def is_open(self) -> bool:
        """Whether something is still to be counted."""
        return any(not line.report.closed for line in self.lines)


@dataclass(frozen=True, slots=True)
class MatchedItem:
    """An item of an order in its three-way match."""

    item: Item
    match: Match


def delivery_reports(
    site: Site, shipments: Iterable[Shipment] | None = None, *, as_listed: bool = True
) -> list[DeliveryReport]:
    """
    Return the reports of some shipments, or of all of a site, in a fixed number of queries.

    as_listed : whether lines are told that came as listed; of much that came it is quick to leave them out.
    """
    chosen = list(
        Shipment.objects.of(site).select_related("supplier").order_by("name") if shipments is None else shipments
    )
    keys = [shipment.pk for shipment in chosen]
    listed = PackingLine.objects.of(site).filter(shipment__in=keys)
    by_shipment: dict[int, list[ReportedLine]] = defaultdict(list)
    for part in [listed] if as_listed else _otherwise(site, listed):
        for each in _listed(site, part):
            by_shipment[each.line.shipment_id].append(each)
    counts = valid_counts(site).filter(receipt__shipment__in=keys)
    unlisted: dict[int, list[ReceiptLine]] = defaultdict(list)
    beside = counts.filter(packing_line__isnull=True).select_related("item", "came_item", "receipt__package", *WHO)
    for row in beside.order_by("pk"):
        unlisted[row.receipt.shipment_id].append(row)
    arrivals = arrivals_of(site, chosen)
    # A count that another took the place of was one all the same: goods that are counted again came no later.
    made = ~models.Exists(reversals(site, of="receipt__posting").exclude(kind=REPLACED))
    every = ReceiptLine.objects.of(site).filter(made, receipt__shipment__in=keys).order_by()
    first = dict(every.values_list("receipt__shipment").annotate(at=models.Min("receipt__posting__at")))
    reports = []
    for shipment in chosen:
        came: list[tuple[Arrival | None, datetime]] = [(one, one.since) for one in arrivals.get(shipment.pk, ())]
        if not came and shipment.pk in first:
            came = [(None, first[shipment.pk])]
        found = tuple(by_shipment[shipment.pk])
        trucks = _by_truck(site, shipment.supplier, found, came) if came else ()
        reports.append(DeliveryReport(shipment, found, tuple(unlisted[shipment.pk]), trucks))
    return reports


def _by_truck(
    site: Site,
    supplier: Supplier | None,
    lines: Iterable[ReportedLine],
    came: Sequence[tuple[Arrival | None, datetime]],
) -> tuple[TruckReport, ...]:
    """Return what is not as listed by the truck that it came with, or did not, each with its own dates."""
    moments = [since for _, since in came]
    by_truck: dict[int, list[tuple[PackingLine, Found]]] = defaultdict(list)
    for listed in lines:
        counts = [(row.receipt.posting.at, _count(row)) for row in listed.counts]
        for truck, found in found_by_truck(listed.report, counts, moments).items():
            by_truck[truck].append((listed.line, found))
    days = [site.local_date(since) for since in moments]
    return tuple(
        TruckReport(arrival, since, day, dates_from(site, supplier, day), tuple(by_truck[number]))
        for number, ((arrival, since), day) in enumerate(zip(came, days, strict=True))
    )


def dates_from(site: Site, supplier: Supplier | None, delivered: date) -> Deadlines:
    """Return the dates that follow from a delivery by what its site and its supplier have set, holidays left out."""
    holidays = [date.fromisoformat(day) for day in site.holidays]
    return deadlines(
        delivered,
        concealed_days=site.concealed_days,
        claim_months=site.claim_months,
        holidays=holidays,
        notice_days=supplier.notice_days if supplier else None,
    )


def delivery_report(shipment: Shipment) -> DeliveryReport:
    """Return the report of one shipment."""
    return delivery_reports(shipment.site, [shipment])[0]


def three_way_match(order: Order) -> list[MatchedItem]:
    """Match every item of an order with the packing lists that answer the order and with what was counted of them."""
    site = order.site
    ordered = OrderLine.objects.of(site).filter(order=order, item__isnull=False).select_related("item")
    quantities = {row.item_id: to_ticks(row.quantity) for row in ordered}
    items = {row.item.pk: row.item for row in ordered if row.item is not None}
    reports: dict[int, list[LineReport]] = defaultdict(list)
    for listed in _listed(site, PackingLine.objects.of(site).filter(order=order)):
        items.setdefault(listed.line.item_id, listed.line.item)
        reports[listed.line.item_id].append(listed.report)
    matched = [MatchedItem(items[key], match_of(quantities.get(key, 0), reports[key])) for key in items]
    return sorted(matched, key=lambda row: row.item.code)


def _otherwise(site: Site, rows: models.QuerySet[PackingLine]) -> Iterator[models.QuerySet[PackingLine]]:
    """
    Yield, in parts, the lines of which what was counted so far is not just what is listed, all of it good.

    They are named by their keys: as a part of the queries that follow the sum would be made anew for each row.
    """
    plain = models.Q(
        receipt_lines__condition__in=[Condition.GOOD, Condition.NOT_OPENED],
        receipt_lines__verdict__in=[ReceiptLine.Judged.AS_LISTED, ReceiptLine.Judged.SUBSTITUTE],
    )
    stands = ~models.Exists(reversals(site, of="receipt_lines__receipt__posting"))
    ticks = models.BigIntegerField()
    counted = PackingLine.objects.of(site).filter(stands, receipt_lines__isnull=False).values("pk").order_by()
    summed = counted.annotate(
        listed=models.ExpressionWrapper(models.F("quantity"), output_field=ticks),
        covered=models.Sum("receipt_lines__covers", output_field=ticks),
        odd=models.Count("receipt_lines", filter=~plain),
    )
    differ = summed.exclude(odd=0, covered=models.F("listed")).values_list("pk", flat=True)
    keys = sorted(differ)
    for start in range(0, len(keys), CHUNK):
        yield rows.filter(pk__in=keys[start : start + CHUNK])


def _listed(site: Site, rows: models.QuerySet[PackingLine]) -> list[ReportedLine]:
    """Return lines of packing lists, in their order, each with its report."""
    lines = list(
        rows.select_related("shipment__site", "item", "package", "kit__run", "order").order_by("shipment", "pk")
    )
    counts: dict[int, list[ReceiptLine]] = defaultdict(list)
    told = valid_counts(site).filter(packing_line__in=rows.order_by().values("pk"))  # not a parameter for each
    for row in told.select_related("item", "came_item", *WHO).order_by("pk"):
        assert row.packing_line_id is not None
        counts[row.packing_line_id].append(row)
    return [
        ReportedLine(line, line_report(to_ticks(line.quantity), [_count(row) for row in mine]), tuple(mine))
        for line in lines
        for mine in [counts[line.pk]]
    ]


def valid_counts(site: Site) -> models.QuerySet[ReceiptLine]:
    """Return the counts that were not reversed."""
    return ReceiptLine.objects.of(site).filter(~models.Exists(reversals(site, of="receipt__posting")))


def _count(row: ReceiptLine) -> Count:
    """Return a count as it was judged when it was made."""
    came = row.came_item if row.came_item_id != row.item_id else None
    covers, counted = to_ticks(row.covers), to_ticks(row.counted)
    if (what := came.code if came else row.came_text) and not covers and counted:
        return Count(Sort.WRONG, 0, row.partial, what, counted)
    if row.verdict == ReceiptLine.Judged.REFUSED:
        return Count(Sort.REFUSED, covers, row.partial)
    sorts = {Condition.DAMAGED: Sort.DAMAGED, Condition.NOT_OPENED: Sort.NOT_OPENED}
    return Count(sorts.get(Condition(row.condition), Sort.GOOD), covers, row.partial)
