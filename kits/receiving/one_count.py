"""One count of an item of a shipment on its way into the books: its verdict, its moves, and what it replaces."""

from __future__ import annotations

import hashlib
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db import models

from kits.receiving.counting.came_instead import Goods, Judgement, Verdict, accepts, judge
from kits.receiving.counting.counts_again import CountMade, counted_before, opens, replaced
from kits.receiving.counting.packing import ListedLine, share
from kits.receiving.models import Receipt, ReceiptLine
from kits.receiving.packing_lists import PackingLists
from kits.shipments.models import Package, Shipment
from kits.stock.books.balances import Books, LackingError
from kits.stock.books.errors import CannotBeError, CountedBeforeError, LedgerError, LotError
from kits.stock.books.lots import last_usable_day, lot_named
from kits.stock.books.pieces import OWN, Piece, covered
from kits.stock.models import Lot, Posting
from kits.stock.places import DEFAULT_BIN, Places, Why
from kits.stock.planned_acts import Act, Outcome, PlannedMove, posting_with, ticks_of
from kits.stock.taking import Steps, lot_for_runs
from takeoff.catalogue.models import Item
from takeoff.records.record_kinds import Filing
from takeoff.sheets.cells.kinds import one_of
from takeoff.sites.models import Place, Site
from takeoff.units.days import add_months
from takeoff.units.exact import SCALE, from_ticks, to_ticks
from takeoff.units.measures import contents_mm3
from takeoff.units.unit_words import comes_whole, unit_for

Condition = ReceiptLine.Condition
Again = Receipt.Again
# What each receipt line of a count says alike.
SAID = ("item_id", "condition", "came_item_id", "came_text", "grade", "partial", "verdict", "held", "why", "note")
LONGEST_LOT: int = Lot._meta.get_field("code").max_length or 0
MOST_MONTHS_KEPT = 120  # a last day further ahead is asked about
_HELD = {Verdict.REFUSED: Why.REFUSED, Verdict.WRONG: Why.WRONG}


class Counting(ABC):
    """
    A count on its way into the books.

    What it covers of each line of the packing list, and which counts it takes the place of, is worked out when it
    happens: others of the same batch may come first, or be refused.
    """

    lacking: Callable[[LackingError], LedgerError] | None = None

    def __init__(self, filing: Filing, lists: PackingLists, made: CountMade, answers: list[ListedLine]) -> None:
        """Let the others of its batch know of it. answers : the lines of the list that it answers."""
        self.filing, self.lists, self.made, self.answers = filing, lists, made, answers
        self.shipment: Shipment = filing["shipment"]
        self.item: Item = filing["item"]
        lists.counts.setdefault((self.shipment.pk, self.item.pk), []).append(made)
        self.replacing: dict[CountMade, CountMade] = {}
        self.gone: dict[CountMade, Posting | Outcome] = {}
        self.papers: list[ReceiptLine] = []

    def act_of(self, items: Iterable[Item], places: Iterable[Place]) -> Act:
        """Return its act. items, places : all that it may touch, besides those of earlier counts."""
        earlier = [move for count in self.others() for move in self.lists.moves_of(count)]
        ends = [end for move in earlier for end in (move.source, move.target)]
        return Act(
            posting=self.filing.prepared,
            items=(*items, *(move.item for move in earlier)),
            places=(*places, *ends),
            steps=self.steps,
            then=self._replacements,
            noted=self._note,
            papers=self._with_receipt,
        )

    @abstractmethod
    def steps(self, books: Books) -> list[PlannedMove]:
        """Return the moves, what the counts that it replaces had covered left out."""

    @abstractmethod
    def why(self, by: CountMade) -> str:
        """Return why a count is taken back that `by` takes the place of."""

    def others(self) -> list[CountMade]:
        """Return the counts of the item that stand."""
        return [count for count in self.lists.standing(self.shipment, self.item) if count is not self.made]

    def shared(self, whole: ReceiptLine) -> list[tuple[ListedLine | None, int]]:
        """Share what was counted among the lines that it answers, beside the other counts, and keep it so."""
        standing = [count for count in self.others() if count not in self.replacing]
        for listed in self.answers:
            listed.counted = sum(count.parts.get(listed.pk, 0) for count in standing)
        covers = to_ticks(whole.covers)
        shares: list[tuple[ListedLine | None, int]] = [*share(self.answers, covers)] or [(None, covers)]
        self.made.parts = {listed.pk if listed else None: part for listed, part in shares}
        self.papers = list(self._lines(whole, shares))
        return shares

    def _lines(self, whole: ReceiptLine, shares: Iterable[tuple[ListedLine | None, int]]) -> Iterator[ReceiptLine]:
        """Yield the receipt lines, one for each line of the packing list that is answered."""
        same_unit = whole.came_item_id in (None, whole.item_id) and not whole.came_text
        for number, (listed, part) in enumerate(shares):
            if whole.partial and number and not part:
                continue  # a part count says nothing of lines that it gave nothing to
            yield ReceiptLine(
                packing_line=self.lists.models[listed.pk] if listed else None,
                counted=from_ticks(part) if same_unit else whole.counted * (number == 0),
                covers=from_ticks(part),
                **{name: getattr(whole, name) for name in SAID},
            )

    def _replacements(self, outcome: Outcome) -> Iterator[Act]:
        """Yield the acts that take back what is counted again, as of the count that takes its place."""
        for count, by in self.replacing.items():
            source = outcome if count is self.made else self.lists.sources[count]
            moves = outcome.steps if count is self.made else self.lists.moves_of(count)
            posting = posting_with(
                self.filing.prepared,
                event_id=f"replaced {hashlib.sha256(f'{count.event} {by.event}'.encode()).hexdigest()[:40]}",
                kind=Posting.Kind.REPLACED,
                at=by.at,
                reason=self.why(by),
                reverses=source.act.posting if isinstance(source, Outcome) else source,
            )
            yield Act(
                posting=posting,
                items=tuple(move.item for move in moves),
                places=tuple(end for move in moves for end in (move.source, move.target)),
                steps=_opposite(moves),
                lacking=self.lacking,
            )

    def _note(self, outcome: Outcome | None) -> None:
        """Let others of the batch know whether it happened, and with it what it took the place of."""
        sources = self.lists.sources
        if outcome is not None:
            sources[self.made] = outcome
            self.gone = {count: sources.pop(count) for count in self.replacing}
        else:
            sources.update(self.gone)
            sources.pop(self.made, None)
            self.gone = {}

    def _with_receipt(self, posting: Posting) -> list[models.Model]:
        made = self.made
        again = Again.SAME if made.same else Again.FURTHER if made.further else ""
        receipt = Receipt(posting=posting, shipment=self.shipment, package_id=made.package, again=again)
        for paper in self.papers:
            paper.receipt = receipt
        return [receipt, *self.papers]


class OneCount(Counting):
    """A count of an item as somebody made it."""

    def __init__(self, places: Places, filing: Filing, lists: PackingLists) -> None:
        """Judge what came and find where it goes. Raises LedgerError for what cannot have been counted so."""
        self.line = line = _line(filing, _package(lists, filing))
        if filing["made"] and filing["made"] > places.site.local_date(filing.at):
            raise CannotBeError(
                f"Made on {filing['made']:%Y-%m-%d}, after it was counted.",
                column="made",
                found=f"{filing['made']:%Y-%m-%d}",
                expected="the day on which it was made, no later than it was counted",
            )
        made = CountMade(
            filing.id,
            filing.at,
            line.package.pk if line.package else None,
            (filing["condition"], filing["came_item"] and filing["came_item"].pk, filing["grade"], line.lot),
            same=filing["again"] == Again.SAME,
            further=filing["again"] == Again.FURTHER,
            partial=filing["part"],
            opened=filing["condition"] != Condition.NOT_OPENED,
        )
        super().__init__(filing, lists, made, lists.answered(filing["shipment"], line.item, line.package))
        self.lacking = self._gone
        self.site = places.site
        self.supplier = places.supplier(self.shipment.supplier)
        self.suppliers = places.suppliers()
        self.bins: dict[int | None, Place] = {}
        for listed in (*self.answers, None):
            held = places.quarantine(line.held) if line.held is not None else None
            self.bins[listed.pk if listed else None] = held or _bin(places, filing["bin"], lists, listed)
        _look(filing, line, self.answers, places.site)

    def act(self) -> Act:
        """Return its act."""
        return self.act_of((self.line.stocked, self.line.item), (*self.suppliers, *self.bins.values()))

    def steps(self, books: Books) -> list[PlannedMove]:
        """Return the moves, what the counts that it replaces had covered left out."""
        line, others = self.line, self.others()
        if line.expires:
            books.tell_expiry(line.stocked.pk, line.lot, line.expires)
        self._tell_piece(books)
        again = self.filing["again"]
        self.made.same = again == Again.SAME or (not again and opens(others, self.made))
        self.replacing = replaced([*others, self.made])
        self._ask([count for count in others if count not in self.replacing])
        shares = self.shared(self._whole())
        if self.filing["came_text"] and not line.covers:
            return []  # no item of the site: told, and moved nowhere
        if line.stocked != line.item:
            shares = [(None, line.ticks)]
        elif line.piece is not OWN:
            shares = list(_in_pieces(line.ticks, line.piece, shares))
        return [
            PlannedMove(line.stocked, part, self.supplier, self.bins[listed.pk if listed else None], self._lot(listed))
            for listed, part in shares
            if part
        ]

    def why(self, by: CountMade) -> str:
        """Return why a count is taken back that `by` takes the place of."""
        return f"{by.event} counted the same goods again"

    def _lot(self, listed: ListedLine | None) -> str:
        """Return the lot of what came: of what is made for a run, the runs that it fits."""
        line = self.line
        if not line.stocked.for_run:
            return line.lot
        said = line.lot or self.lists.made_for(listed)
        return lot_for_runs(line.stocked, said, self.lists.runs.values())

    def _tell_piece(self, books: Books) -> None:
        """Say how the lot lies. Raises LotError where it came before and lies otherwise."""
        line, lot, known = self.line, self.line.lot, books.piece(self.line.stocked.pk, self.line.lot)
        came = lot and any(books.at(place.pk, line.stocked.pk, lot) for place in self.suppliers)
        if known != line.piece and came:
            raise LotError(
                f"Lot {lot} of {line.stocked} came before, and its pieces are not like these: give these another lot.",
                column="lot",
                found=self.filing["lot"],
                expected="another lot",
            )
        books.tell_piece(line.stocked.pk, lot, line.piece)

    def _ask(self, standing: list[CountMade]) -> None:
        """Raise CountedBeforeError where nobody has said whether these are goods that were counted before."""
        seen = self.filing["seen"]
        others = [*standing, *self.replacing]
        latest = max((count for count in others if count is not self.made), key=lambda count: count.at, default=None)
        if seen and latest and latest.event != seen:
            told = f"{self.line.item} of {self.shipment} was counted meanwhile, {self._told([latest])}"
            raise CountedBeforeError(
                f"{told}: are these the same goods counted again, or further goods?",
                column="again",
                expected=f"same or further, said of the later count: {told}",
            )
        before = counted_before(standing, self.made)
        if not before or self.made.further or self.made in self.replacing:
            return
        told = f"{self.line.item} of {self.shipment} was counted before, {self._told(before)}"
        if self.made.same and not all(self.made.covers(count) for count in before):
            raise CountedBeforeError(
                f"{told}, over all packages: count it again over all packages, or say that these are further goods.",
                column="package",
                found=self.filing["package"],
                expected="no package, where the count over all packages is replaced",
            )
        raise CountedBeforeError(
            f"{told}: are these the same goods counted again, or further goods?",
            column="again",
            expected=f"same or further: {told}",
        )

    def _told(self, counts: list[CountMade]) -> str:
        """Return counts in words, each with its day."""
        unit = self.line.item.unit
        return ", ".join(
            f"{from_ticks(sum(count.parts.values())).normalize():f} {unit} on {self.site.local_date(count.at):%Y-%m-%d}"
            for count in counts
        )

    def _gone(self, error: LackingError) -> LedgerError:
        """Return the refusal of a count of fewer than have left already."""
        short = error.asked - error.found
        least = f"{from_ticks(self.line.ticks + short).normalize():f} {self.line.piece.unit or self.line.item.unit}"
        item = self.line.item
        return LedgerError(
            f"More {item} has left where the count before put it than this one leaves: at least {least} came.",
            column="counted",
            found=f"{from_ticks(self.line.ticks).normalize():f}",
            expected=f"at least {least}, or what has left taken back first",
        )

    def _whole(self) -> ReceiptLine:
        """Return what was counted in one line, before it is shared among those of the packing list."""
        filing, line = self.filing, self.line
        return ReceiptLine(
            item=line.item,
            counted=from_ticks(line.ticks),
            covers=from_ticks(line.covers),
            condition=filing["condition"],
            came_item=filing["came_item"],
            came_text=filing["came_text"],
            grade=filing["grade"],
            partial=filing["part"],
            verdict=line.judgement.verdict.value,
            held=line.held is not None,
            why=line.judgement.reason,
            note=filing["note"],
        )


def _in_pieces(
    pieces: int, piece: Piece, shares: Iterable[tuple[ListedLine | None, int]]
) -> Iterator[tuple[ListedLine | None, int]]:
    """Yield for each line the pieces that cover its share: whole ones, up, while there are any; the last the rest."""
    shares, given, worth = list(shares), 0, 0
    for number, (listed, part) in enumerate(shares):
        worth += part
        upto = min(pieces, piece.covering(worth)) if number < len(shares) - 1 else pieces
        yield listed, upto - given
        given = upto


def _opposite(moves: Iterable[PlannedMove]) -> Steps:
    """Return the steps that take moves back."""
    back = [PlannedMove(move.item, move.quantity, move.target, move.source, move.lot) for move in moves]
    return lambda _books: back


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
    held: Why | None  # why it goes to quarantine, None for good stock
    piece: Piece = OWN

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
    unnamed: str = filing["came_text"]
    if condition == Condition.WRONG_ITEM and came is None and not unnamed:
        raise CannotBeError(
            f"Wrong item instead of {item}: say which item came, or what it is in words.",
            column="came_item",
            expected="the item that came, when the condition is wrong item",
        )
    ticks = _how_many(filing)
    judgement = judge(_goods(item), _goods(came) if came else None, grade)
    if unnamed and came is None:
        judgement = Judgement(Verdict.WRONG, f"{unnamed} came", Fraction(0))
    # What was refused stays what it is: the listed item of a wrong grade, or another item altogether.
    stocked = item if came is None or judgement.verdict is Verdict.SUBSTITUTE else came
    expires = last_usable_day(filing["made"], filing["expires"], (came or item).shelf_life_days)
    lot, piece = lot_named(filing["lot"], expires), OWN
    if judgement.verdict is Verdict.SUBSTITUTE and came:
        lot, piece = f"{came.code} {lot}".strip(), Piece(judgement.each, came.pk, came.unit)
    if len(lot) > LONGEST_LOT:
        raise CannotBeError(
            f"Lot {lot!r} is longer than {LONGEST_LOT} characters.",
            column="lot",
            found=filing["lot"],
            expected=f"at most {LONGEST_LOT} characters in all",
        )
    held = _HELD.get(judgement.verdict) or (Why.DAMAGED if condition == Condition.DAMAGED else None)
    return _Line(item, package, ticks, judgement, stocked, lot, expires, held, piece)


def _how_many(filing: Filing) -> int:
    """Return what was counted in ticks, by boxes where they were counted. Raises CannotBeError where that differs."""
    counted, boxes, per_box, loose = (filing[name] for name in ("counted", "boxes", "per_box", "loose"))
    if boxes is None:
        if counted is None:
            raise CannotBeError("Say how many came.", column="counted", expected="a number, or boxes and per_box")
        return ticks_of(counted, column="counted", zero=True)
    if per_box is None:
        raise CannotBeError("Say how many a box holds.", column="per_box", expected="how many each box holds")
    in_all = boxes * per_box + (loose or 0)
    if counted is not None and counted != in_all:
        text = f"{boxes:f} boxes of {per_box:f} and {loose or 0:f} make {in_all:f}, not {counted:f}."
        raise CannotBeError(text, column="counted", found=f"{counted:f}", expected=f"{in_all:f}, or other boxes")
    return ticks_of(in_all, column="boxes", zero=True)


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


def _look(filing: Filing, line: _Line, answers: list[ListedLine], site: Site) -> None:
    """Note what a person should look at: refused grades, substitutes, what no list names, what came expired."""
    item, grade, look = line.item, filing["grade"], filing.look
    if line.judgement.verdict in (Verdict.REFUSED, Verdict.WRONG):
        look.append(f"{line.judgement.reason}: it goes on hold, never to stock.")
    elif line.judgement.verdict is Verdict.SUBSTITUTE:
        told = f"{from_ticks(line.ticks)} {unit_for(line.piece.unit, line.ticks)}"
        worth = f"{from_ticks(line.covers)} {unit_for(item.unit, line.covers)}"
        look.append(f"{line.judgement.reason}: {told} came, worth {worth} by contents.")
    elif grade and grade.casefold() != item.grade.casefold() and _unknown(item, grade):
        look.append(f"Grade {grade} is neither accepted nor refused for {item}: look at it.")
    if not answers:
        where = f"package {line.package.name} of " if line.package else ""
        look.append(f"The packing list of {where}{filing['shipment']} does not name {item}.")
    came = filing["came_item"] or item
    if comes_whole(came.unit) and line.ticks % SCALE:
        look.append(f"{from_ticks(line.ticks)} of {came}, which comes whole, were counted.")
    if line.expires and line.expires > add_months(site.local_date(filing.at), MOST_MONTHS_KEPT):
        look.append(f"{item} can be used to {line.expires:%Y-%m-%d}, more than ten years: is the day right?")
    if line.expires and line.expires < site.local_date(filing.at):
        look.append(f"{item} could be used to {line.expires:%Y-%m-%d}: it came expired.")
    elif item.shelf_life_days and not line.expires and line.ticks:
        look.append(f"{item} has a shelf life, and no day made or last usable is given.")


def _unknown(item: Item, grade: str) -> bool:
    return not accepts(_goods(item), grade) and bool(item.accept or item.refuse or item.grade)
