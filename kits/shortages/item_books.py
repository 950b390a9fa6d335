"""
Reading an item's books from all three floors: a fixed number of queries, however many rows there are.

Events count when they are dated up to the end of the as-of day on site; runs, rules, dates, orders and packing lists
are as they are today.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta, tzinfo
from fractions import Fraction

from django.db.models import BigIntegerField, Exists, ExpressionWrapper, F, QuerySet, Sum

from kits.gate.models import Arrival
from kits.orders.models import Order, OrderLine
from kits.orders.queries import runs_ordered_for
from kits.promises.models import KitLine
from kits.receiving.counting.came_instead import Goods
from kits.receiving.models import ReceiptLine
from kits.shipments.models import PackingLine
from kits.shortages.box_reading import BoxReading, read_gang_boxes
from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook
from kits.shortages.reckon.lines import ShortItem
from kits.shortages.reckon.packed_for_runs import shared_by_runs
from kits.shortages.reckon.projection import LotStock, usable
from kits.shortages.reckon.substitutes import StandIns, absorb, stand_ins
from kits.shortages.reckon.usage import PRIORS, Prior
from kits.shortages.reckon.working_days import LeadTime
from kits.stock.books.lots import runs_named
from kits.stock.models import Balance, Lot, Move
from kits.stock.places import box_of_crew
from kits.stock.queries import reversals
from kits.stock.worth import worth_lying
from takeoff.catalogue.models import Item, Supplier, UsagePrior
from takeoff.records.reported import standing
from takeoff.rules.made_sizes import made_sizes
from takeoff.rules.models import Takeoff, TakeoffLine
from takeoff.runs.models import NothingUsed, Run, Stage
from takeoff.sites.models import Place, Site, StageName
from takeoff.units.exact import to_ticks
from takeoff.units.measures import contents_mm3

Kind = Place.Kind
WORK = {kind for kind in Kind if kind.is_work}
GOOD = {kind for kind in Kind if kind.holds_good_stock}
STAGE_ORDER = {stage: place for place, stage in enumerate(StageName.values)}
StageKey = tuple[int, str]  # run, stage


@dataclass(frozen=True, slots=True)
class StageDates:
    """When a stage is planned, and the moment it was done, as of the day; `known`: it has a row of its own."""

    planned: date | None = None
    done: datetime | None = None
    known: bool = False


@dataclass(slots=True)
class Balances:
    """
    Where an item lies, by the kind of place. [ticks of its own unit]

    lots : of good stock, by whom it is for and its lot: the key of a run, the name of a crew's gang box, None for all.
    """

    lots: dict[tuple[int | str | None, str], int] = field(default_factory=lambda: defaultdict(int))
    work: dict[StageKey, int] = field(default_factory=lambda: defaultdict(int))
    kinds: dict[str, int] = field(default_factory=lambda: defaultdict(int))


@dataclass(slots=True)
class SiteReading:
    """A site's rows as of a day, by primary keys, as the arithmetic takes them."""

    tz: tzinfo
    items: dict[int, ShortItem]
    runs: dict[int, str]
    stages: dict[StageKey, StageDates]
    unused: set[tuple[int, int, str]]  # item, run, stage
    takeoffs: dict[int, dict[StageKey, tuple[int, int]]]
    with_takeoff: set[int]
    balances: dict[int, Balances]
    expires: dict[tuple[int, str], date]
    goods: dict[int, Goods]
    boxes: BoxReading = field(default_factory=BoxReading)
    books: dict[int, ItemBooks] = field(default_factory=dict)
    stand_ins: StandIns = field(default_factory=dict)

    def fits(self, item: int, lot: str) -> frozenset[int] | None:
        """Return the runs that a lot of an item fits, None where the item is not made for runs."""
        if not self.items[item].for_run:
            return None
        named = {name.casefold() for name in runs_named(lot)}
        return frozenset(run for run, name in self.runs.items() if name.casefold() in named)


def in_ticks(path: str) -> ExpressionWrapper:
    """Return an exact column as the whole ticks that it holds."""
    return ExpressionWrapper(F(path), output_field=BigIntegerField())


def _sum(path: str) -> Sum:
    return Sum(path, output_field=BigIntegerField())


def end_of(site: Site, day: date) -> datetime:
    """Return the first moment on site that is no longer `day`."""
    return site.start_of(day + timedelta(days=1))


def read_item_books(site: Site, as_of: date) -> SiteReading:
    """Return all that the books of a site say of its items as of the end of a day."""
    end = end_of(site, as_of)
    items = list(Item.objects.of(site).select_related("supplier").order_by("code"))
    priors = _priors(site, items)
    gathered = SiteReading(
        tz=site.tz,
        items={item.pk: short_item(item, priors.get(item.pk)) for item in items},
        runs=dict(Run.objects.of(site).values_list("pk", "name")),
        stages=_stages(site, end),
        unused=set(NothingUsed.objects.of(site).filter(at__lte=end).values_list("item_id", "run_id", "stage")),
        takeoffs=_takeoffs(site),
        with_takeoff=set(Takeoff.objects.of(site).filter(book__isnull=False).values_list("run_id", flat=True)),
        balances=_balances(site, end),
        expires={
            (item, code): expires
            for item, code, expires in Lot.objects.of(site).values_list("item_id", "code", "expires")
            if expires is not None
        },
        goods={item.pk: _goods(item) for item in items},
        boxes=read_gang_boxes(site, end),
    )
    promised = _promised(site)
    made_for = {key for key, item in gathered.items.items() if item.for_run}
    packing, shipped = _packing(site, end, made_for)
    orders, drafts = _orders(site, shipped, made_for)
    sizes: dict[int, dict[int, str]] = defaultdict(dict)
    for (item, run), told in made_sizes(site, made_for).items():
        sizes[item][run] = told
    for key in gathered.items:
        books = _item_books(gathered, key, promised.get(key, 0), packing[key], orders[key], drafts[key])
        gathered.books[key] = replace(books, sizes=sizes[key])
    _let_stand_in(gathered, as_of)
    return gathered


def short_item(item: Item, prior: Prior | None = None) -> ShortItem:
    """Return what a line shows of an item, its use believed to be as `prior`; its supplier should be at hand."""
    return ShortItem(
        id=item.pk,
        code=item.code,
        description=item.description,
        unit=item.unit,
        group=item.group,
        pack=to_ticks(item.pack),
        min_order=to_ticks(item.min_order),
        supplier_id=item.supplier_id,
        supplier=item.supplier.name if item.supplier else "",
        supplier_part=item.supplier_part,
        lead=lead_time(item.lead_days(item.supplier), item.supplier),
        unit_cost=item.unit_cost,
        grade=item.grade,
        accept=item.accept,
        refuse=item.refuse,
        prior=prior,
        fitted=item.fitted,
        for_run=item.for_run,
    )


def _priors(site: Site, items: Iterable[Item]) -> dict[int, Prior]:
    """Return what is believed of each item whose use is learned: told of itself, else of its class, else ours."""
    told = {
        row.item_id or row.usage: Prior(
            Fraction(row.rate), Fraction(row.rate_worth), Fraction(row.spread), row.spread_worth
        )
        for row in UsagePrior.objects.of(site)
    }
    return {
        item.pk: told.get(item.pk) or told.get(item.usage) or PRIORS[item.usage]
        for item in items
        if item.usage != Item.Usage.FIXED
    }


def lead_time(days: int | None, supplier: Supplier | None) -> LeadTime | None:
    """Return how long an item takes from a supplier, None where nobody gave it."""
    working = supplier is not None and supplier.lead_time_in == Supplier.CountedIn.WORKING_DAYS
    return None if days is None else LeadTime(days, working)


def _item_books(
    gathered: SiteReading,
    key: int,
    promised: int,
    packing: Iterable[PackedLine],
    orders: Iterable[OrderedLine],
    drafts: Iterable[tuple[str, int]],
) -> ItemBooks:
    balances = gathered.balances.get(key) or Balances()
    kinds = balances.kinds
    return ItemBooks(
        item=gathered.items[key],
        stages=tuple(_stage_books(gathered, key, balances.work)),
        lots=tuple(
            LotStock(quantity, gathered.expires.get((key, lot)), gathered.fits(key, lot))
            for (_, lot), quantity in sorted(
                balances.lots.items(), key=lambda pair: (str(pair[0][0] or ""), pair[0][1])
            )
            if quantity
        ),
        packing=tuple(packing),
        orders=tuple(orders),
        drafts=tuple(drafts),
        promised=promised,
        counted=-kinds[Kind.SUPPLIER],
        rejected=kinds[Kind.QUARANTINE] + kinds[Kind.RETURNED],
        scrapped=kinds[Kind.SCRAP],
        lost=kinds[Kind.LOST_FOUND],
        elsewhere=kinds[Kind.OTHER_SITE] + kinds[Kind.TRANSIT],
    )


def _stage_books(gathered: SiteReading, key: int, issued: Mapping[StageKey, int]) -> Iterable[StageBook]:
    takeoffs = gathered.takeoffs.get(key, {})
    keys = {*takeoffs, *(stage for stage, quantity in issued.items() if quantity)}
    for run_id, stage in sorted(keys, key=lambda k: (gathered.runs[k[0]], k[0], STAGE_ORDER[k[1]])):
        dates = gathered.stages.get((run_id, stage), StageDates())
        takeoff, drawn = takeoffs.get((run_id, stage), (0, 0))
        yield StageBook(
            run_id=run_id,
            run=gathered.runs[run_id],
            stage=stage,
            planned=dates.planned,
            done=dates.done is not None,
            takeoff=takeoff,
            drawn=drawn,
            issued=issued.get((run_id, stage), 0),
            # Midnight is the end of the day before.
            done_on=(dates.done - timedelta(seconds=1)).astimezone(gathered.tz).date() if dates.done else None,
            unused=(key, run_id, stage) in gathered.unused,
            counts=gathered.boxes.served.get((key, run_id, stage), frozenset()),
            in_box=_in_box(gathered, key, run_id, dates.done),
        )


def _in_box(gathered: SiteReading, key: int, run_id: int, done: datetime | None) -> bool:
    """Return whether the next count of its crew's gang box tells what a stage that is done has used of an item."""
    box = gathered.boxes.of_run.get(run_id)
    if done is None or box is None:
        return False
    balances, counted = gathered.balances.get(key) or Balances(), gathered.boxes.counted.get((box, key))
    return (counted is None or counted < done) and any(
        owner == box and quantity > 0 for (owner, _), quantity in balances.lots.items()
    )


def _let_stand_in(gathered: SiteReading, as_of: date) -> None:
    """Count what stands in for an item in that item's books."""
    own = dict(gathered.books)
    wanted = [key for key, takeoff in gathered.takeoffs.items() if any(quantity for quantity, _ in takeoff.values())]
    spare = gathered.items.keys() - set(wanted)
    known = [key for key in gathered.items if key in spare and own[key].has_records and not gathered.items[key].fitted]
    gathered.stand_ins = stand_ins(gathered.goods, wanted, known)
    for key, others in gathered.stand_ins.items():
        for other, each in others:
            good = usable(own[other].lots, as_of)
            gathered.books[key] = absorb(gathered.books[key], own[other], each, good)


def _goods(item: Item) -> Goods:
    contents = contents_mm3(item.contents, item.contents_unit) if item.contents and item.contents_unit else None
    return Goods(item.code, item.grade, item.accept, item.refuse, contents)


def _stages(site: Site, end: datetime) -> dict[StageKey, StageDates]:
    rows = Stage.objects.of(site).values_list("run_id", "stage", "planned", "done")
    # A stage done on a date without a time is done at the end of that day, which is midnight.
    return {
        (run, stage): StageDates(planned, done if done is not None and done <= end else None, known=True)
        for run, stage, planned, done in rows
    }


def _takeoffs(site: Site) -> dict[int, dict[StageKey, tuple[int, int]]]:
    found: dict[int, dict[StageKey, tuple[int, int]]] = defaultdict(dict)
    rows = TakeoffLine.objects.of(site).annotate(q=in_ticks("quantity"), d=in_ticks("drawn"))
    for item, run, stage, quantity, drawn in rows.values_list("item_id", "takeoff__run_id", "stage", "q", "d"):
        found[item][run, stage] = (quantity, drawn)
    return found


def _balances(site: Site, end: datetime) -> dict[int, Balances]:
    """Return today's balances less what was posted from `end` on."""
    found: dict[int, Balances] = defaultdict(Balances)
    later = Move.objects.of(site).filter(posting__at__gte=end)
    pieces = worth_lying(site, before=end)
    apart = {(item, lot) for _, item, lot in pieces}
    _add(found, Balance.objects.of(site), "place", +1, apart)
    _add(found, later, "target", -1, apart)
    _add(found, later, "source", +1, apart)
    rows = Place.objects.of(site).filter(pk__in={place for place, _, _ in pieces}).values_list("pk", *_where(""))
    places = {key: (kind, run, stage, box_of, crew) for key, kind, run, stage, box_of, crew in rows}
    for (place, item, lot), worth in pieces.items():
        _put(found[item], lot, *places[place], worth)
    return found


def _where(place: str) -> list[str]:
    return [f"{place}{name}" for name in ("kind", "run_id", "stage", "kit_box__kit__run_id", "crew")]


def _add(
    found: dict[int, Balances],
    rows: QuerySet[Balance] | QuerySet[Move],
    place: str,
    sign: int,
    apart: Collection[tuple[int, str]],
) -> None:
    """Add what lies of every item and lot but those that are counted in pieces of something else."""
    totals = rows.order_by().values_list("item_id", "lot", *_where(f"{place}__"))
    for item, lot, kind, run, stage, box_of, crew, total in totals.annotate(total=_sum("quantity")):
        if (item, lot) not in apart:
            _put(found[item], lot, kind, run, stage, box_of, crew, sign * int(total))


def _put(
    balances: Balances, lot: str, kind: Place.Kind, run: int, stage: str, box_of: int | None, crew: str, quantity: int
) -> None:
    if kind in GOOD:
        balances.lots[box_of_crew(crew) if crew else box_of, lot] += quantity
    elif kind in WORK:
        balances.work[run, stage] += quantity
    else:
        balances.kinds[kind] += quantity


def _promised(site: Site) -> dict[int, int]:
    rows = KitLine.objects.of(site).order_by().values_list("item_id")
    return {item: int(total) for item, total in rows.annotate(total=_sum("quantity"))}


def _packing(
    site: Site, end: datetime, made_for: Collection[int]
) -> tuple[dict[int, list[PackedLine]], dict[tuple[int, int], int]]:
    """Return the packing lines of each item, and what is shipped by order and item."""
    counted: dict[int, int] = defaultdict(int)
    closed: set[int] = set()
    stood = ~Exists(reversals(site, of="receipt__posting").filter(at__lt=end))
    receipts = ReceiptLine.objects.of(site).filter(stood, receipt__posting__at__lt=end)
    on_lines = receipts.filter(packing_line__isnull=False).annotate(q=in_ticks("covers"))
    for line, quantity, partial in on_lines.values_list("packing_line_id", "q", "partial"):
        counted[line] += quantity
        if not partial:
            closed.add(line)
    packing: dict[int, list[PackedLine]] = defaultdict(list)
    shipped: dict[tuple[int, int], int] = defaultdict(int)
    ordered_for = runs_ordered_for(site, made_for)
    lines = PackingLine.objects.of(site).annotate(q=in_ticks("quantity")).order_by("shipment__name", "pk")
    of_shipment = ("shipment__name", "shipment__expected", "order_id", "package__name", "kit__run_id")
    rows = list(lines.values_list("pk", "item_id", "q", *of_shipment))
    begun = {shipment for key, _, _, shipment, *_ in rows if counted.get(key) or key in closed}
    begun.update(standing(Arrival.objects.of(site)).filter(at__lt=end).values_list("shipment__name", flat=True))
    for key, item, quantity, shipment, expected, order, package, run in rows:
        packed = PackedLine(
            shipment, quantity, counted[key], key in closed, expected, package or "", begun=shipment in begun
        )
        if item not in made_for:
            packing[item].append(packed)
        elif run:
            packing[item].append(replace(packed, fits=frozenset([run])))
        else:
            packing[item] += shared_by_runs(packed, ordered_for.get((order, item), {}))
        if order is not None:
            shipped[order, item] += quantity
    return packing, shipped


def _orders(
    site: Site, shipped: Mapping[tuple[int, int], int], made_for: Collection[int]
) -> tuple[dict[int, list[OrderedLine]], dict[int, list[tuple[str, int]]]]:
    """Return the order lines of each item, and what drafts ask for, by name."""
    found: dict[int, list[OrderedLine]] = defaultdict(list)
    drafts: dict[int, list[tuple[str, int]]] = defaultdict(list)
    left = dict(shipped)
    rows = (
        OrderLine.objects.of(site)
        .filter(item__isnull=False)
        .annotate(q=in_ticks("quantity"))
        .order_by("order__name", "pk")
    )
    for line in rows.select_related("order__supplier", "item"):
        assert line.item is not None
        order, item, quantity = line.order, line.item.pk, line.q
        state = Order.State(order.state)
        if state == Order.State.DRAFT:
            drafts[item].append((order.name, quantity))
            continue
        # What is shipped of an item is of the lines of its order in turn.
        sent = min(quantity, left.get((order.pk, item), 0))
        if sent:
            left[order.pk, item] -= sent
        lead = lead_time(line.item.lead_days(order.supplier), order.supplier)
        found[item].append(
            OrderedLine(
                order.name,
                quantity,
                sent,
                state.is_open,
                line.expected,
                sent=line.sent,
                lead=lead,
                free=line.kind == OrderLine.Charge.NO_CHARGE,
                fits=frozenset(filter(None, [line.run_id])) if item in made_for else None,
            )
        )
    return found, drafts
