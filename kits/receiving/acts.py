"""A delivery as it was counted, as an act that can be posted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from django.db import models
from django.db.models import Sum

from kits.promises.models import Kit
from kits.receiving.counting.came_instead import Goods, Judgement, Verdict, accepts, covered, judge
from kits.receiving.counting.packing import ListedLine, answered, share
from kits.receiving.models import Receipt, ReceiptLine
from kits.shipments.models import Package, PackingLine, Shipment
from kits.stock.act import Act, PlannedMove, ticks_of
from kits.stock.books.balances import Books
from kits.stock.books.errors import LedgerError, LotError
from kits.stock.books.lots import last_usable_day, lot_named
from kits.stock.models import Lot, Posting
from kits.stock.places import DEFAULT_BIN, Places
from takeoff.catalogue.models import Item
from takeoff.people.models import User
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.measures import contents_mm3

Condition = ReceiptLine.Condition
LONGEST_LOT: int = Lot._meta.get_field("code").max_length or 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """
    What was counted of one item of the packing list.

    counted : in the unit of what came, never guessed. package : None for all packages of the shipment. came_item :
    what came instead. partial : more is to be counted, the line stays open.
    """

    item: Item
    counted: Decimal
    package: Package | None = None
    condition: str = Condition.GOOD
    came_item: Item | None = None
    grade: str = ""
    lot: str = ""
    made: date | None = None
    expires: date | None = None
    bin: str = ""
    partial: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedDelivery:
    """One count of what a shipment brought."""

    event_id: str
    shipment: Shipment
    at: datetime
    lines: tuple[Counted, ...]
    by: str = ""
    recorded_by: User | None = None
    said_hash: str = ""


@dataclass(slots=True)
class PackingLists:
    """
    The packing lists of shipments, with what was counted for each line so far; posted deliveries add to it.

    cautions : by event id, what a person should look at.
    """

    lines: dict[int, list[ListedLine]]
    models: dict[int, PackingLine]
    cautions: dict[str, list[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, site: Site, shipments: Iterable[Shipment]) -> PackingLists:
        """Read the packing lists of some shipments in two queries."""
        keys = {shipment.pk for shipment in shipments}
        rows = PackingLine.objects.of(site).filter(shipment__in=keys).select_related("kit__run", "kit__box")
        counts = ReceiptLine.objects.of(site).filter(
            packing_line__shipment__in=keys, receipt__posting__reversed_by__isnull=True
        )
        so_far = dict(counts.order_by().values_list("packing_line").annotate(total=Sum("covers")))
        lists = cls({}, {})
        kits: dict[int, Kit] = {}  # one object for each, so that a new box is known to all of its lines
        for row in rows.order_by("pk"):
            if row.kit is not None:
                row.kit = kits.setdefault(row.kit.pk, row.kit)
            line = ListedLine(
                row.pk, row.item_id, row.package_id, to_ticks(row.quantity), to_ticks(so_far.get(row.pk) or 0)
            )
            lists.lines.setdefault(row.shipment_id, []).append(line)
            lists.models[row.pk] = row
        return lists

    def answered(self, shipment: Shipment, counted: Counted) -> list[ListedLine]:
        """Return the lines that a count answers, none when the list does not name the item."""
        package = counted.package.pk if counted.package else None
        return answered(self.lines.get(shipment.pk, []), counted.item.pk, package)


@dataclass(frozen=True, slots=True)
class _Line:
    """A counted line with its verdict, and the item, lot and place that follow from it."""

    counted: Counted
    ticks: int
    judgement: Judgement
    stocked: Item
    lot: str
    expires: date | None
    held: bool  # goes to quarantine

    @property
    def covers(self) -> int:
        """What the count comes to of the listed item."""
        return covered(self.ticks, self.judgement.each) if self.stocked == self.counted.item else 0


def delivery_act(places: Places, packing: PackingLists, delivery: CountedDelivery) -> Act:
    """Return the act of a delivery. Raises LedgerError for what cannot have been counted so."""
    lines = [_line(counted) for counted in delivery.lines]
    source = places.supplier(delivery.shipment.supplier)
    quarantine = places.quarantine()
    bins: dict[tuple[int, int | None], Place] = {}
    for number, line in enumerate(lines):
        for listed in (*packing.answered(delivery.shipment, line.counted), None):
            key = (number, listed.pk if listed else None)
            bins[key] = quarantine if line.held else _bin(places, line.counted.bin, packing, listed)
    papers: list[ReceiptLine] = []

    def steps(books: Books) -> list[PlannedMove]:
        moves = []
        for number, line in enumerate(lines):
            if line.expires:
                books.tell_expiry(line.stocked.pk, line.lot, line.expires)
            answers = packing.answered(delivery.shipment, line.counted)
            _caution(packing, delivery, line, answers, places.site)
            papers.extend(_papers(packing, line, answers))
            listed_item = line.stocked == line.counted.item
            shares = _shares(answers, line.covers) if listed_item else [(None, line.ticks)]
            for listed, part in shares:
                if listed:
                    listed.counted += part
                if part:
                    target = bins[number, listed.pk if listed else None]
                    moves.append(PlannedMove(line.stocked, part, source, target, line.lot))
        return moves

    def with_receipt(posting: Posting) -> list[models.Model]:
        receipt = Receipt(posting=posting, shipment=delivery.shipment)
        for paper in papers:
            paper.receipt = receipt
        return [receipt, *papers]

    return Act(
        event_id=delivery.event_id,
        kind=Posting.Kind.RECEIPT,
        at=delivery.at,
        content={"shipment": delivery.shipment.name, "lines": [_said(counted) for counted in delivery.lines]},
        items=tuple(line.stocked for line in lines) + tuple(line.counted.item for line in lines),
        places=(source, quarantine, *bins.values()),
        steps=steps,
        papers=with_receipt,
        said_hash=delivery.said_hash,
        by=delivery.by,
        recorded_by=delivery.recorded_by,
        document=delivery.shipment.name,
    )


def kits_to_box(packing: PackingLists, deliveries: Iterable[CountedDelivery]) -> list[Kit]:
    """Return the kits whose boxes the deliveries may fill."""
    kits = []
    for delivery in deliveries:
        for counted in delivery.lines:
            for listed in packing.answered(delivery.shipment, counted) if not counted.bin else []:
                kit = packing.models[listed.pk].kit
                if kit and kit.run_id:
                    kits.append(kit)
    return kits


def _line(counted: Counted) -> _Line:
    if counted.condition not in Condition.values:
        expected = ", ".join(Condition.values)
        raise LedgerError(
            f"{counted.condition!r} is no condition of goods; expected one of {expected}.",
            column="condition",
            found=counted.condition,
            expected=f"one of {expected}",
        )
    came = counted.came_item if counted.came_item != counted.item else None
    if counted.condition == Condition.WRONG_ITEM and came is None:
        raise LedgerError(
            f"Wrong item instead of {counted.item}: say which item came.",
            column="came_item",
            expected="the item that came, when the condition is wrong item",
        )
    ticks = ticks_of(counted.counted, column="counted", zero=True)
    judgement = judge(_goods(counted.item), _goods(came) if came else None, counted.grade)
    as_listed = judgement.verdict in (Verdict.AS_LISTED, Verdict.SUBSTITUTE)
    # What was refused stays what it is: the listed item of a wrong grade, or another item altogether.
    stocked = counted.item if came is None or judgement.verdict is Verdict.SUBSTITUTE else came
    expires = last_usable_day(counted.made, counted.expires, (came or counted.item).shelf_life_days)
    lot = lot_named(counted.lot, expires)
    if judgement.verdict is Verdict.SUBSTITUTE and came:
        lot = f"{came.code} {lot}".strip()
    if len(lot) > LONGEST_LOT:
        raise LotError(
            f"Lot {lot!r} is longer than {LONGEST_LOT} characters.",
            column="lot",
            found=counted.lot,
            expected=f"at most {LONGEST_LOT} characters in all",
        )
    held = counted.condition == Condition.DAMAGED or not as_listed
    return _Line(counted, ticks, judgement, stocked, lot, expires, held)


def _goods(item: Item) -> Goods:
    contents: Fraction | None = None
    if item.contents and item.contents_unit:
        contents = contents_mm3(item.contents, item.contents_unit)
    return Goods(item.code, item.grade, item.accept, item.refuse, contents)


def _bin(places: Places, name: str, packing: PackingLists, listed: ListedLine | None) -> Place:
    kit = packing.models[listed.pk].kit if listed and not name else None
    if kit and kit.run_id:
        return places.box_of(kit)
    return places.bin(name or DEFAULT_BIN)


def _papers(packing: PackingLists, line: _Line, answers: list[ListedLine]) -> list[ReceiptLine]:
    """Return the receipt lines of a count, one for each line of the packing list that it answers."""
    counted = line.counted
    papers = []
    shares = _shares(answers, line.covers)
    same_unit = counted.came_item in (None, counted.item)
    for number, (listed, part) in enumerate(shares):
        told = part if same_unit else line.ticks * (number == 0)
        if counted.partial and number and not part:
            continue  # a part count says nothing of lines that it gave nothing to
        papers.append(
            ReceiptLine(
                packing_line=packing.models[listed.pk] if listed else None,
                item=counted.item,
                counted=from_ticks(told),
                covers=from_ticks(part),
                condition=counted.condition,
                came_item=counted.came_item,
                grade=counted.grade,
                partial=counted.partial,
                note=counted.note,
            )
        )
    return papers


def _shares(answers: list[ListedLine], covers: int) -> list[tuple[ListedLine | None, int]]:
    """Return what each answered line gets, or all of it for no line when the list does not name the item."""
    return [*share(answers, covers)] or [(None, covers)]


def _caution(
    packing: PackingLists, delivery: CountedDelivery, line: _Line, answers: list[ListedLine], site: Site
) -> None:
    counted, cautions = line.counted, packing.cautions.setdefault(delivery.event_id, [])
    if line.judgement.verdict in (Verdict.REFUSED, Verdict.WRONG):
        cautions.append(f"{line.judgement.reason}: it goes to quarantine, never to stock.")
    elif line.judgement.verdict is Verdict.SUBSTITUTE:
        told = f"{from_ticks(line.ticks)} count as {from_ticks(line.covers)} {counted.item.unit}"
        cautions.append(f"{line.judgement.reason}: {told} by contents.")
    elif counted.grade and counted.grade.casefold() != counted.item.grade.casefold():
        cautions += _unknown_grade(counted)
    if not answers:
        where = f"package {counted.package.name} of " if counted.package else ""
        cautions.append(f"The packing list of {where}{delivery.shipment} does not name {counted.item}.")
    if line.expires and line.expires < site.local_date(delivery.at):
        cautions.append(f"{counted.item} could be used to {line.expires:%Y-%m-%d}: it came expired.")
    elif counted.item.shelf_life_days and not line.expires and line.ticks:
        cautions.append(f"{counted.item} has a shelf life, and no day made or last usable is given.")


def _unknown_grade(counted: Counted) -> list[str]:
    item = counted.item
    if accepts(_goods(item), counted.grade) or not (item.accept or item.refuse or item.grade):
        return []
    return [f"Grade {counted.grade} is neither accepted nor refused for {item}: look at it."]


def _said(counted: Counted) -> list[object]:
    return [
        counted.item.code,
        str(to_ticks(counted.counted)),
        counted.package.name if counted.package else "",
        counted.condition,
        counted.came_item.code if counted.came_item else "",
        counted.grade,
        counted.lot,
        counted.made,
        counted.expires,
        counted.bin,
        counted.partial,
        counted.note,
    ]
