"""What was counted of what shipments brought: the kind of record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db import models

from kits.receiving.counting.came_instead import Goods, Judgement, Verdict, accepts, covered, judge
from kits.receiving.counting.packing import ListedLine, share
from kits.receiving.models import Receipt, ReceiptLine
from kits.receiving.packing_lists import PackingLists
from kits.shipments.models import Package, Shipment
from kits.stock.books.balances import Books
from kits.stock.books.errors import CannotBeError, LedgerError
from kits.stock.books.lots import last_usable_day, lot_named
from kits.stock.keeper import StoreKind, Wanted, posting_of
from kits.stock.models import Lot, Posting
from kits.stock.places import DEFAULT_BIN, Places
from kits.stock.planned_acts import Act, PlannedMove, ticks_of
from takeoff.catalogue.models import Item
from takeoff.people.permissions import STORE
from takeoff.records.record_kinds import AT, ID, Filing, register_kind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Number, Reference, Text, YesNo, one_of
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks
from takeoff.units.measures import contents_mm3

Condition = ReceiptLine.Condition
LONGEST_LOT: int = Lot._meta.get_field("code").max_length or 0


class ReceiptsKind(StoreKind):
    """
    What was counted of one item of a packing list.

    Good goods go to the bin named, else to the box of the kit that the packing line is for, else to the store; damaged,
    wrong and refused ones to quarantine.
    """

    name = "receipts"
    order = 210
    rank = 1
    help = "What was counted of a shipment, item by item. What is not counted has no row: nothing is guessed."
    permission = STORE
    posts = Posting.Kind.RECEIPT
    asks = True
    columns = (
        ID,
        Column("shipment", Reference(to="shipment"), "The shipment.", required=True),
        Column("item", Reference(to="item"), "The item that the packing list names.", required=True),
        Column("counted", Number(), "How many came, in the unit of what came.", required=True),
        AT,
        Column("package", Text(60), "The package it was in.", default="", default_help="all of the shipment"),
        Column("condition", Choice(tuple(Condition.values)), "In what condition.", default=Condition.GOOD.value),
        Column("came_item", Reference(to="item"), "What came instead.", default_help="the item itself"),
        Column("grade", Text(120), "Material or grade printed on it.", default="", default_help="the item's"),
        Column("lot", Text(60), "The lot.", default="", default_help="none"),
        Column("made", Day(), "When the lot was made.", default_help="not said"),
        Column("expires", Day(), "The lot's last usable day.", default_help="made + shelf life, else none"),
        Column(
            "bin",
            Text(120),
            "Where it was put; made when it is new.",
            default="",
            default_help="the box of its kit when that is for a run, else Store",
        ),
        Column("part", YesNo(), "Whether more is to be counted.", default=False, default_help="no: all is counted"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
    )

    def begin(self, site: Site, filings: Sequence[Filing]) -> PackingLists:
        """Read the packing lists, under the locks of the items: who counted a moment ago is seen."""
        return PackingLists.of(site, [filing["shipment"] for filing in filings])

    def wants(self, filing: Filing, begun: PackingLists, wanted: Wanted) -> None:
        """Make the bin, and the boxes of the kits that it may fill."""
        wanted.bins.append(filing["bin"] or DEFAULT_BIN)
        package = begun.packages.get((filing["shipment"].pk, filing["package"]))
        for listed in begun.answered(filing["shipment"], filing["item"], package) if not filing["bin"] else []:
            kit = begun.models[listed.pk].kit
            if kit and kit.run_id:
                wanted.boxes.append(kit)

    def posting(self, site: Site, filing: Filing) -> Posting:
        """Return what the count will be posted as, its shipment the document."""
        return posting_of(site, filing, self.posts, filing["shipment"].name)

    def act(self, places: Places, filing: Filing, begun: PackingLists) -> Act:
        """Return the act of a count. Raises LedgerError for what cannot have been counted so."""
        shipment: Shipment = filing["shipment"]
        line = _line(filing, _package(begun, filing))
        source, quarantine = places.supplier(shipment.supplier), places.quarantine()
        answers = begun.answered(shipment, line.item, line.package)
        bins: dict[int | None, Place] = {}
        for listed in (*answers, None):
            target = quarantine if line.held else _bin(places, filing["bin"], begun, listed)
            bins[listed.pk if listed else None] = target
        papers: list[ReceiptLine] = []
        _look(filing, line, answers, places.site)

        def steps(books: Books) -> list[PlannedMove]:
            if line.expires:
                books.tell_expiry(line.stocked.pk, line.lot, line.expires)
            papers[:] = _papers(begun, filing, line, answers)
            shares = _shares(answers, line.covers) if line.stocked == line.item else [(None, line.ticks)]
            moves = []
            for listed, part in shares:
                if listed:
                    listed.counted += part
                if part:
                    target = bins[listed.pk if listed else None]
                    moves.append(PlannedMove(line.stocked, part, source, target, line.lot))
            return moves

        def with_receipt(posting: Posting) -> list[models.Model]:
            receipt = Receipt(posting=posting, shipment=shipment)
            for paper in papers:
                paper.receipt = receipt
            return [receipt, *papers]

        return Act(
            posting=filing.prepared,
            items=(line.stocked, line.item),
            places=(source, quarantine, *bins.values()),
            steps=steps,
            papers=with_receipt,
        )


@dataclass(frozen=True, slots=True)
class _Line:
    """A counted line with its verdict, and the item, lot and place that follow from it."""

    item: Item
    package: Package | None
    ticks: int
    judgement: Judgement
    stocked: Item
    lot: str
    expires: date | None
    held: bool  # goes to quarantine

    @property
    def covers(self) -> int:
        """What the count comes to of the listed item."""
        return covered(self.ticks, self.judgement.each) if self.stocked == self.item else 0


def _package(lists: PackingLists, filing: Filing) -> Package | None:
    shipment, name = filing["shipment"], filing["package"]
    if not name:
        return None
    package = lists.packages.get((shipment.pk, name))
    if package is None:
        names = [known for of_shipment, known in lists.packages if of_shipment == shipment.pk]
        known = one_of(names, name) if names else "it names none"
        raise LedgerError(
            f"{shipment} has no package {name}.",
            column="package",
            found=name,
            expected=f"a package of {shipment}: {known}",
            lacks=f"package {shipment} {name}",
        )
    return package


def _line(filing: Filing, package: Package | None) -> _Line:
    item, condition, grade = filing["item"], filing["condition"], filing["grade"]
    came = filing["came_item"] if filing["came_item"] != item else None
    if condition == Condition.WRONG_ITEM and came is None:
        raise CannotBeError(
            f"Wrong item instead of {item}: say which item came.",
            column="came_item",
            expected="the item that came, when the condition is wrong item",
        )
    ticks = ticks_of(filing["counted"], column="counted", zero=True)
    judgement = judge(_goods(item), _goods(came) if came else None, grade)
    as_listed = judgement.verdict in (Verdict.AS_LISTED, Verdict.SUBSTITUTE)
    # What was refused stays what it is: the listed item of a wrong grade, or another item altogether.
    stocked = item if came is None or judgement.verdict is Verdict.SUBSTITUTE else came
    expires = last_usable_day(filing["made"], filing["expires"], (came or item).shelf_life_days)
    lot = lot_named(filing["lot"], expires)
    if judgement.verdict is Verdict.SUBSTITUTE and came:
        lot = f"{came.code} {lot}".strip()
    if len(lot) > LONGEST_LOT:
        raise CannotBeError(
            f"Lot {lot!r} is longer than {LONGEST_LOT} characters.",
            column="lot",
            found=filing["lot"],
            expected=f"at most {LONGEST_LOT} characters in all",
        )
    held = condition == Condition.DAMAGED or not as_listed
    return _Line(item, package, ticks, judgement, stocked, lot, expires, held)


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


def _papers(packing: PackingLists, filing: Filing, line: _Line, answers: list[ListedLine]) -> list[ReceiptLine]:
    """Return the receipt lines of a count, one for each line of the packing list that it answers."""
    papers = []
    same_unit = filing["came_item"] in (None, line.item)
    for number, (listed, part) in enumerate(_shares(answers, line.covers)):
        told = part if same_unit else line.ticks * (number == 0)
        if filing["part"] and number and not part:
            continue  # a part count says nothing of lines that it gave nothing to
        papers.append(
            ReceiptLine(
                packing_line=packing.models[listed.pk] if listed else None,
                item=line.item,
                counted=from_ticks(told),
                covers=from_ticks(part),
                condition=filing["condition"],
                came_item=filing["came_item"],
                grade=filing["grade"],
                partial=filing["part"],
                note=filing["note"],
            )
        )
    return papers


def _shares(answers: list[ListedLine], covers: int) -> list[tuple[ListedLine | None, int]]:
    """Return what each answered line gets, or all of it for no line when the list does not name the item."""
    return [*share(answers, covers)] or [(None, covers)]


def _look(filing: Filing, line: _Line, answers: list[ListedLine], site: Site) -> None:
    """Note what a person should look at: refused grades, substitutes, what no list names, what came expired."""
    item, grade, look = line.item, filing["grade"], filing.look
    if line.judgement.verdict in (Verdict.REFUSED, Verdict.WRONG):
        look.append(f"{line.judgement.reason}: it goes to quarantine, never to stock.")
    elif line.judgement.verdict is Verdict.SUBSTITUTE:
        told = f"{from_ticks(line.ticks)} count as {from_ticks(line.covers)} {item.unit}"
        look.append(f"{line.judgement.reason}: {told} by contents.")
    elif grade and grade.casefold() != item.grade.casefold() and _unknown(item, grade):
        look.append(f"Grade {grade} is neither accepted nor refused for {item}: look at it.")
    if not answers:
        where = f"package {line.package.name} of " if line.package else ""
        look.append(f"The packing list of {where}{filing['shipment']} does not name {item}.")
    if line.expires and line.expires < site.local_date(filing.at):
        look.append(f"{item} could be used to {line.expires:%Y-%m-%d}: it came expired.")
    elif item.shelf_life_days and not line.expires and line.ticks:
        look.append(f"{item} has a shelf life, and no day made or last usable is given.")


def _unknown(item: Item, grade: str) -> bool:
    return not accepts(_goods(item), grade) and bool(item.accept or item.refuse or item.grade)


register_kind(ReceiptsKind())
