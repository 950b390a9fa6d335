"""What is handed out, comes back, is counted, moved, scrapped and sent back: the kinds of record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from kits.stock.books.balances import Books, Lying
from kits.stock.books.errors import CannotBeError, LotError, UnknownPlaceError
from kits.stock.books.lots import lot_named
from kits.stock.keeper import StoreKind, Wanted
from kits.stock.models import BinCount, Posting
from kits.stock.places import Places
from kits.stock.planned_acts import Act, PlannedMove, ticks_of
from takeoff.catalogue.models import Item
from takeoff.people.permissions import HAND_OUT, STORE
from takeoff.records.record_kinds import AT, BY, ID, Filing, register_kind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Number, Reference, Text
from takeoff.sites.models import Place, StageName
from takeoff.units.exact import from_ticks

# Ways in which something comes back from a stage, and where it goes.
GOOD, DAMAGED, SPOILED = "good", "damaged", "spoiled"
CONDITIONS = (GOOD, DAMAGED, SPOILED)

ITEM = Column("item", Reference(to="item"), "The item.", required=True)
RUN = Column("run", Reference(to="run"), "The run.", required=True)
STAGE = Column("stage", Choice(tuple(StageName.values)), "The stage of the run.", required=True)
QUANTITY = Column("quantity", Number(above=True), "How many.", required=True)
REASON = Column("reason", Text(300), "Why.", required=True)
WHY = Column("reason", Text(300), "Why.", default="", default_help="not said")
FIRST_EXPIRED = "first expired first out"


class CountsKind(StoreKind):
    """What was counted in bins. What is more than the books said at that moment is found, what is less is lost."""

    name = "counts"
    order = 220
    rank = 2
    help = "What was counted in a bin. More than booked is found, less is lost; a first count is found."
    permission = STORE
    posts = Posting.Kind.COUNT
    columns = (
        ID,
        ITEM,
        Column("bin", Text(120), "The bin; made when it is new.", required=True),
        Column("counted", Number(), "How many are there.", required=True),
        AT,
        Column("lot", Text(60), "The lot that was counted.", default="", default_help="what has no lot"),
        Column("expires", Day(), "The lot's last usable day.", default_help="as known before"),
        BY,
    )

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make the bin."""
        wanted.bins.append(filing["bin"])

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act of a count: the difference to the books of its moment, from or to lost and found."""
        item, expires = filing["item"], filing["expires"]
        counted = ticks_of(filing["counted"], column="counted", zero=True)
        bin_, lost_found = places.bin(filing["bin"]), places.lost_found()
        lot = lot_named(filing["lot"], expires)

        def steps(books: Books) -> list[PlannedMove]:
            if expires:
                books.tell_expiry(item.pk, lot, expires)
            assert books.now is not None
            books.counted(bin_.pk, item.pk, lot, books.now)
            difference = counted - books.as_of(bin_.pk, item.pk, lot, books.now)
            if difference > 0:
                return [PlannedMove(item, difference, lost_found, bin_, lot)]
            return [PlannedMove(item, -difference, bin_, lost_found, lot)] if difference < 0 else []

        def papers(posting: Posting) -> list[Any]:
            counted_there = from_ticks(counted)
            return [BinCount(posting=posting, place=bin_, item=item, lot=lot, counted=counted_there)]

        return Act(
            posting=filing.prepared,
            items=(item,),
            places=(bin_, lost_found),
            steps=steps,
            papers=papers,
        )


class IssuesKind(StoreKind):
    """
    What was handed out to a stage of a run.

    Without a bin it comes from the boxes of the run's kits, then from pooled bins, first expired first out. With a
    lender it is borrowed: from the boxes of the lender's kits, then from the pool, out of the lender's share.
    """

    name = "issues"
    order = 230
    rank = 3
    help = "What was handed to a stage of a run. A lender's stock is borrowed, and owed until the lender draws."
    permission = HAND_OUT
    posts = Posting.Kind.ISSUE
    columns = (
        ID,
        ITEM,
        Column("quantity", Number(above=True), "How many were handed out.", required=True),
        RUN,
        STAGE,
        AT,
        Column("bin", Text(120), "Where they came from.", default="", default_help="the run's kit boxes, then any bin"),
        Column("lot", Text(60), "The lot.", default="", default_help=FIRST_EXPIRED),
        Column("lender", Reference(to="run"), "The run that they were borrowed from.", default_help="not borrowed"),
        BY,
    )

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make the place of the stage."""
        wanted.work.append((Place.Kind.HANDED_OUT, filing["run"], filing["stage"]))

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act of a hand-out. Raises LedgerError for a bin that is unknown or serves another run."""
        item, run, lender, lot = filing["item"], filing["run"], filing["lender"], filing["lot"]
        quantity = ticks_of(filing["quantity"])
        target = places.handed_out(run, filing["stage"])
        if lender == run:
            raise CannotBeError(
                f"{run} cannot borrow from itself.", column="lender", found=str(run), expected="another run, or nothing"
            )
        named = _bin_to_draw_from(places, filing) if filing["bin"] else None
        on = places.site.local_date(filing.at)

        def steps(books: Books) -> list[PlannedMove]:
            groups = [{named.pk: named}] if named else [places.boxes_of(lender or run), places.pooled()]
            _refuse_expired_lot(books, item, lot, on)
            return _from_groups(books, item, groups, quantity, target, on=on, lot=lot)

        return Act(
            posting=filing.prepared,
            items=(item,),
            places=(target, named) if named else (target,),
            steps=steps,
            picks=True,
        )


class ReturnsKind(StoreKind):
    """
    What came back from a stage of a run.

    Good goes to its bin, damaged to quarantine; spoiled stays counted as used by the stage. Without a lot it is taken
    to be of the lot that keeps longest: what expires first is used first.
    """

    name = "returns"
    order = 240
    rank = 4
    help = "What came back from a stage of a run. What was spoiled there stays counted as used."
    permission = HAND_OUT
    posts = Posting.Kind.RETURN
    columns = (
        ID,
        ITEM,
        Column("quantity", Number(above=True), "How many came back.", required=True),
        RUN,
        STAGE,
        AT,
        Column("bin", Text(120), "Where good ones were put; made when it is new.", default="", default_help="Store"),
        Column("lot", Text(60), "The lot.", default="", default_help="what keeps longest of what was handed out"),
        Column("condition", Choice(CONDITIONS), "In what condition.", default=GOOD),
        BY,
    )

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make the place of the stage, and the bin of what is good."""
        run, stage, condition = filing["run"], filing["stage"], filing["condition"]
        wanted.work.append((Place.Kind.HANDED_OUT, run, stage))
        if condition == SPOILED:
            wanted.work.append((Place.Kind.SPOILED, run, stage))
        elif condition == GOOD:
            wanted.bins.append(filing["bin"])

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act of a return."""
        item, run, stage = filing["item"], filing["run"], filing["stage"]
        quantity = ticks_of(filing["quantity"])
        source = places.handed_out(run, stage)
        if filing["condition"] == GOOD:
            target = places.bin(filing["bin"])
        else:
            target = places.quarantine() if filing["condition"] == DAMAGED else places.spoiled(run, stage)
        taken_from = [{source.pk: source}]

        def steps(books: Books) -> list[PlannedMove]:
            return _from_groups(books, item, taken_from, quantity, target, lot=filing["lot"], last_first=True)

        return Act(posting=filing.prepared, items=(item,), places=(source, target), steps=steps)


class CarriesKind(StoreKind):
    """What takes an item from one place of the site to another."""

    any_lot = True  # whether a blank lot means any

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make nothing: both places must be there."""

    def ends(self, places: Places, filing: Filing) -> tuple[Place, Place]:
        """Return where it is taken from and where it goes."""
        raise AssertionError("every kind that carries says where")

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act. Raises LedgerError for a place that is unknown, or the same twice."""
        item = filing["item"]
        source, target = self.ends(places, filing)
        if source == target:
            raise CannotBeError(
                f"{source} is where it lies already.", column="target", found=str(target), expected="another place"
            )
        quantity = ticks_of(filing["quantity"])
        lot = filing["lot"]

        def steps(books: Books) -> list[PlannedMove]:
            if not self.any_lot and not lot:
                return _without_lot(books, item, quantity, source, target)
            return _from_groups(books, item, [{source.pk: source}], quantity, target, lot=lot)

        return Act(
            posting=filing.prepared,
            items=(item,),
            places=(source, target),
            steps=steps,
        )


LOT = Column("lot", Text(60), "The lot.", default="", default_help=FIRST_EXPIRED)
LOT_GONE = Column("lot", Text(60), "The lot.", default="", default_help="what has no lot")


class TransfersKind(CarriesKind):
    """What was moved from one bin to another."""

    name = "transfers"
    order = 250
    rank = 5
    help = "What was moved between bins and kit boxes of the site. Both must be known."
    permission = STORE
    posts = Posting.Kind.TRANSFER
    columns = (
        ID,
        ITEM,
        QUANTITY,
        Column("source", Text(120), "Where it lay.", required=True),
        Column("target", Text(120), "Where it was put.", required=True),
        AT,
        LOT,
        WHY,
        BY,
    )

    def ends(self, places: Places, filing: Filing) -> tuple[Place, Place]:
        """Return the two bins."""
        return places.known(filing["source"], column="source"), places.known(filing["target"], column="target")


class ScrapsKind(CarriesKind):
    """What was scrapped."""

    name = "scraps"
    order = 260
    rank = 5
    help = "What was thrown away, and why."
    permission = STORE
    posts = Posting.Kind.SCRAP
    any_lot = False
    columns = (ID, ITEM, QUANTITY, Column("bin", Text(120), "Where it lay.", required=True), REASON, AT, LOT_GONE, BY)

    def ends(self, places: Places, filing: Filing) -> tuple[Place, Place]:
        """Return the bin, and where scrap goes."""
        return places.known(filing["bin"]), places.scrap()


class SendBacksKind(CarriesKind):
    """What was sent back to its supplier."""

    name = "send_backs"
    order = 270
    rank = 5
    help = "What was sent back to its supplier, and why."
    permission = STORE
    posts = Posting.Kind.SEND_BACK
    any_lot = False
    columns = (
        ID,
        ITEM,
        QUANTITY,
        REASON,
        AT,
        Column("bin", Text(120), "Where it lay.", default="", default_help="Quarantine"),
        LOT_GONE,
        BY,
    )

    def ends(self, places: Places, filing: Filing) -> tuple[Place, Place]:
        """Return the bin or quarantine, and where goods go that are sent back."""
        return places.known(filing["bin"]) if filing["bin"] else places.quarantine(), places.returned()


def _without_lot(books: Books, item: Item, quantity: int, source: Place, target: Place) -> list[PlannedMove]:
    """Return what takes goods without a lot; where they are not enough and lots lie there, it asks for one."""
    lying = books.lying(item.pk, [source.pk])
    if sum(one.quantity for one in lying if not one.lot) >= quantity:
        return [PlannedMove(item, quantity, source, target)]
    if lots := [one for one in lying if one.lot]:
        there = ", ".join(f"{one.lot} ({from_ticks(one.quantity).normalize():f})" for one in lots)
        raise LotError(
            f"Which lot of {item}? In {source} lie {there}.",
            column="lot",
            expected=f"the lot that is meant: {there} in {source}",
        )
    return _from_groups(books, item, [{source.pk: source}], quantity, target)


def _bin_to_draw_from(places: Places, filing: Filing) -> Place:
    place = places.known(filing["bin"])
    if not Place.Kind(place.kind).holds_good_stock:
        raise UnknownPlaceError(
            f"{place.name} holds nothing that can be handed out.",
            column="bin",
            found=filing["bin"],
            expected="a bin or kit box",
        )
    owner = places.owner(place)
    run = filing["run"]
    if owner is not None and owner not in (run, filing["lender"]):
        raise UnknownPlaceError(
            f"{place.name} is the box of {owner}: name {owner} as the lender to borrow from it.",
            column="bin",
            found=filing["bin"],
            expected=f"a pooled bin, a box of {run}, or {owner} as the lender",
        )
    return place


def _refuse_expired_lot(books: Books, item: Item, lot: str, on: date) -> None:
    expires = books.expires(item.pk, lot)
    if lot and expires and expires < on:
        raise LotError(
            f"Lot {lot} of {item} could be used to {expires:%Y-%m-%d}: it is not handed out.",
            column="lot",
            found=lot,
            expected=f"a lot usable on {on:%Y-%m-%d}, or blank for the first to expire",
        )


def _from_groups(
    books: Books,
    item: Item,
    groups: Sequence[Mapping[int, Place]],
    quantity: int,
    target: Place,
    *,
    on: date | None = None,
    lot: str = "",
    last_first: bool = False,
) -> list[PlannedMove]:
    chosen: list[Lying] = books.pick(item.pk, groups, quantity, on=on, lot=lot, last_first=last_first)
    taken_from = {lying.place: places[lying.place] for lying in chosen for places in groups if lying.place in places}
    return [PlannedMove(item, lying.quantity, taken_from[lying.place], target, lying.lot) for lying in chosen]


for _kind in (CountsKind, IssuesKind, ReturnsKind, TransfersKind, ScrapsKind, SendBacksKind):
    register_kind(_kind())
