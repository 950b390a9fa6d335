"""What the pages of receiving show: trucks, one shipment, one crate, in a number of queries that does not grow."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, Exists, OuterRef, Q

from kits.gate.models import Arrival, ArrivedPackage, TruckCall
from kits.gate.queries import arrivals_of, calls_of
from kits.promises.models import Kit, KitLine
from kits.receiving.counting.report import LineReport, combined
from kits.receiving.models import ReceiptLine
from kits.receiving.queries import DeliveryReport, ReportedLine, delivery_report, valid_counts
from kits.shipments.models import Package, PackingLine, Shipment
from kits.stock.dear import is_dear
from reels.models import Reel
from takeoff.catalogue.models import Item
from takeoff.records.reported import standing
from takeoff.rules.models import TakeoffLine
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet
from takeoff.units.exact import to_ticks

LAST_DONE = 30


@dataclass(slots=True)
class Truck:
    """A shipment in the list of trucks. reels : that come with it, on the way. call : what its dispatcher said last."""

    name: str
    shipment: Shipment | None = None
    arrivals: Sequence[Arrival] = ()
    lines: int = 0
    closed: int = 0
    counted: bool = False
    reels: list[Reel] = field(default_factory=list)
    call: TruckCall | None = None

    @property
    def to_count(self) -> int:
        """How many lines of its list nobody has counted whole."""
        return self.lines - self.closed

    @property
    def expected(self) -> date | None:
        """When it is to come."""
        return self.shipment.expected if self.shipment else None

    @property
    def here(self) -> bool:
        """Whether it stands here with something to count, or without its list."""
        if self.shipment is None or not (self.arrivals or self.counted or self.shipment.found_at):
            return False
        return bool(self.to_count or not self.lines)

    @property
    def to_come(self) -> bool:
        """Whether it is still on the way."""
        return not (self.arrivals or self.counted or (self.shipment and self.shipment.found_at))


@dataclass(frozen=True, slots=True)
class Trucks:
    """The trucks of a site: those that stand here, those to come by day, and those that are done, the latest first."""

    here: tuple[Truck, ...]
    to_come: tuple[Truck, ...]
    done: tuple[Truck, ...]


def trucks(site: Site) -> Trucks:
    """Return the trucks of a site; a delivery that brings nothing but reels is one, too."""
    found = {row.pk: Truck(row.name, row) for row in Shipment.objects.of(site).select_related("supplier")}
    whole = valid_counts(site).filter(packing_line=OuterRef("pk"), partial=False)
    lines = PackingLine.objects.of(site).order_by().annotate(whole=Exists(whole)).values("shipment")
    for row in lines.annotate(every=Count("pk"), closed=Count("pk", filter=Q(whole=True))):
        found[row["shipment"]].lines, found[row["shipment"]].closed = row["every"], row["closed"]
    for key in valid_counts(site).order_by().values_list("receipt__shipment", flat=True).distinct():
        found[key].counted = True
    for key, arrivals in arrivals_of(site).items():
        found[key].arrivals = arrivals
    by_name = {truck.name: truck for truck in found.values()}
    for reel in Reel.objects.of(site).filter(state=Reel.State.ON_THE_WAY).select_related("cable").order_by("tag"):
        name = reel.delivery or "no shipment named"
        by_name.setdefault(name, Truck(name)).reels.append(reel)
    every = sorted(by_name.values(), key=lambda truck: (truck.expected or date.max, truck.name))
    done = [truck for truck in every if not truck.here and not truck.to_come]
    return Trucks(
        here=tuple(truck for truck in every if truck.here),
        to_come=tuple(truck for truck in every if truck.to_come),
        done=tuple(reversed(done[-LAST_DONE:])),
    )


@dataclass(frozen=True, slots=True)
class Crate:
    """A package of a shipment, or (`package` is None) what its list puts in none. state : at the gate."""

    package: Package | None
    lines: int
    to_count: int
    state: str = ""

    @property
    def name(self) -> str:
        """What it is called."""
        return self.package.name if self.package else "No package named"


@dataclass(frozen=True, slots=True)
class KitRow:
    """An item of a kit: promised, needed by the takeoff of its run, listed on all shipments, and counted. In ticks."""

    kit: Kit
    item: Item
    promised: int
    needed: int | None
    shipped: int
    counted: int

    @property
    def differs(self) -> bool:
        """Whether less is promised than needed, or less listed than promised."""
        return self.promised < (self.needed or 0) or self.shipped < self.promised


@dataclass(frozen=True, slots=True)
class ShipmentPage:
    """One shipment: its report, packages, trucks, kits and reels."""

    report: DeliveryReport
    crates: tuple[Crate, ...]
    arrivals: tuple[Arrival, ...]
    kits: tuple[KitRow, ...]
    reels: tuple[Reel, ...]
    call: TruckCall | None

    @property
    def to_count(self) -> int:
        """How many lines are not counted whole."""
        return sum(crate.to_count for crate in self.crates)

    @property
    def differing(self) -> list[KitRow]:
        """The items of its kits of which less is promised than needed, or less listed than promised."""
        return [row for row in self.kits if row.differs]

    @property
    def agreeing(self) -> list[KitRow]:
        """The items of its kits that are listed as promised and needed."""
        return [row for row in self.kits if not row.differs]


def trucks_page(site: Site) -> Trucks:
    """Return the trucks of a site, those to come with what their dispatchers said last."""
    found = trucks(site)
    calls = calls_of(site, [truck.shipment for truck in found.to_come if truck.shipment])
    for truck in found.to_come:
        truck.call = calls.get(truck.shipment.pk) if truck.shipment else None
    return found


def shipment_page(shipment: Shipment) -> ShipmentPage:
    """Return what the page of a shipment shows."""
    site = shipment.site
    report = delivery_report(shipment)
    arrivals = arrivals_of(site, [shipment]).get(shipment.pk, [])
    states = {
        row.package_id: row.get_state_display()
        for row in ArrivedPackage.objects.of(site).filter(arrival__in=arrivals).order_by("arrival__at", "pk")
    }
    of_package: dict[int | None, list[ReportedLine]] = defaultdict(list)
    for listed in report.lines:
        of_package[listed.line.package_id].append(listed)
    packages: list[Package | None] = [*Package.objects.of(site).filter(shipment=shipment).order_by("name")]
    crates = tuple(
        Crate(
            package,
            len(rows),
            sum(not row.report.closed for row in rows),
            states.get(package.pk, "") if package else "",
        )
        for package in (*packages, *([None] if None in of_package or not packages else []))
        for rows in [of_package[package.pk if package else None]]
    )
    reels = tuple(_reels(site, shipment.name))
    call = calls_of(site, [shipment]).get(shipment.pk)
    return ShipmentPage(report, crates, tuple(arrivals), tuple(_kits(site, report.lines)), reels, call)


@dataclass(frozen=True, slots=True)
class ReelsPage:
    """
    The reels of a delivery, blank for those of which nobody named one.

    truck_came : whether a truck of it was taken in: a reel that is still on the way then is here, and not looked at.
    """

    delivery: str
    reels: tuple[Reel, ...]
    truck_came: bool

    @property
    def to_come(self) -> int:
        """How many are on the way."""
        return sum(reel.state == Reel.State.ON_THE_WAY for reel in self.reels)


def reels_page(site: Site, delivery: str) -> ReelsPage:
    """Return the reels of a delivery, pieces that came off them left out."""
    came = standing(Arrival.objects.of(site)).filter(shipment__name=delivery).exists()
    return ReelsPage(delivery, tuple(_reels(site, delivery)), came)


def _reels(site: Site, delivery: str) -> SiteQuerySet[Reel]:
    rows = Reel.objects.of(site).filter(delivery=delivery, parent=None).select_related("cable", "place")
    return rows.order_by("tag")


def _kits(site: Site, lines: Sequence[ReportedLine]) -> list[KitRow]:
    """Return the items of the kits that a list names."""
    kits = {listed.line.kit_id: listed.line.kit for listed in lines if listed.line.kit}
    if not kits:
        return []
    shipped: Counter[tuple[int | None, int]] = Counter()
    items: dict[int, Item] = {}
    for row in PackingLine.objects.of(site).filter(kit__in=kits).select_related("item"):
        shipped[row.kit_id, row.item_id] += to_ticks(row.quantity)
        items[row.item_id] = row.item
    promised: Counter[tuple[int | None, int]] = Counter()
    for line in KitLine.objects.of(site).filter(kit__in=kits).select_related("item"):
        promised[line.kit_id, line.item_id] += to_ticks(line.quantity)
        items[line.item_id] = line.item
    counted: Counter[tuple[int | None, int]] = Counter()
    counts = valid_counts(site).filter(packing_line__kit__in=kits)
    for in_kit, of_item, covers in counts.values_list("packing_line__kit", "item", "covers"):
        counted[in_kit, of_item] += to_ticks(covers)
    needed: Counter[tuple[int, int]] = Counter()
    runs = {kit.run_id for kit in kits.values() if kit and kit.run_id}
    for of_run, of_item, quantity in (
        TakeoffLine.objects.of(site).filter(takeoff__run__in=runs).values_list("takeoff__run", "item", "quantity")
    ):
        needed[of_run, of_item] += to_ticks(quantity)
    rows = [
        KitRow(
            kit,
            items[item],
            promised[key, item],
            needed[kit.run_id, item] if kit.run_id else None,
            shipped[key, item],
            counted[key, item],
        )
        for key, item in {**promised, **shipped}
        if (kit := kits[key])
    ]
    return sorted(rows, key=lambda row: (row.kit.name, row.item.code))


@dataclass(frozen=True, slots=True)
class CrateRow:
    """
    An item of a crate: all lines of it together. Quantities in ticks.

    per_box : how many one of the packs holds that the list counts in, None where it counts in pieces. before : whether
    it was counted, so that who counts says whether these are the same goods. blind : whether it is worth so much that
    the list's figure shows only after it was counted. elsewhere : further packages that list it.
    """

    item: Item
    report: LineReport
    per_box: int | None
    kits: tuple[Kit, ...]
    before: bool
    blind: bool
    elsewhere: tuple[str, ...]
    last: ReceiptLine | None


@dataclass(frozen=True, slots=True)
class CratePage:
    """One crate as it is counted. uncounted : the rows that nobody has counted; further : counts that no list names."""

    shipment: Shipment
    package: Package | None
    rows: tuple[CrateRow, ...]
    further: tuple[ReceiptLine, ...]

    @property
    def uncounted(self) -> tuple[CrateRow, ...]:
        """The rows of which nobody has counted anything."""
        return tuple(row for row in self.rows if not row.before)

    @property
    def open(self) -> tuple[CrateRow, ...]:
        """The rows that are not counted whole."""
        return tuple(row for row in self.rows if not row.report.closed)


def crate_page(shipment: Shipment, package: Package | None) -> CratePage:
    """Return what the screen of a crate shows, its rows in the order of the list."""
    return crate_pages(shipment, [package])[0]


def crate_pages(shipment: Shipment, packages: Sequence[Package | None]) -> list[CratePage]:
    """Return what the screens of some crates show, in as many queries as for one."""
    report, site = delivery_report(shipment), shipment.site
    last: dict[int, ReceiptLine] = {}
    counts = valid_counts(site).filter(packing_line__in=[listed.line.pk for listed in report.lines])
    for count in counts.select_related("receipt__posting", "came_item").order_by("receipt__posting__at", "pk"):
        last[count.packing_line_id or 0] = count
    return [_crate(report, package, last) for package in packages]


def _crate(report: DeliveryReport, package: Package | None, last: dict[int, ReceiptLine]) -> CratePage:
    """Return one crate. last : the latest count of each line of the list."""
    mine: dict[int, list[ReportedLine]] = defaultdict(list)
    elsewhere: dict[int, dict[str, None]] = defaultdict(dict)
    for listed in report.lines:
        if listed.line.package_id == (package.pk if package else None):
            mine[listed.line.item_id].append(listed)
        elif listed.line.package:
            elsewhere[listed.line.item_id][listed.line.package.name] = None
    rows, site = [], report.shipment.site
    for key, listed_rows in mine.items():
        first = listed_rows[0].line
        together = combined([listed.report for listed in listed_rows])
        counts = [last[listed.line.pk] for listed in listed_rows if listed.line.pk in last]
        latest = max(counts, key=lambda count: (count.receipt.posting.at, count.pk), default=None)
        rows.append(
            CrateRow(
                item=first.item,
                report=together,
                per_box=to_ticks(first.per_pack) if first.per_pack > 1 else None,
                kits=tuple(dict.fromkeys(listed.line.kit for listed in listed_rows if listed.line.kit)),
                before=latest is not None,
                blind=latest is None and is_dear(first.item, together.listed, site),
                elsewhere=tuple(elsewhere[key]),
                last=latest,
            )
        )
    further = tuple(row for row in report.unlisted if row.receipt.package_id == (package.pk if package else None))
    return CratePage(report.shipment, package, tuple(rows), further)
