"""What is handed out, comes back and is counted: the kinds of record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import partial
from typing import Any

from kits.issuing.choosing import chosen_for, drawn_from
from kits.issuing.needs import Need, handed_out_of, needs_of
from kits.stock.books.balances import Books, LackingError
from kits.stock.books.errors import CannotBeError, LotError, UnknownPlaceError
from kits.stock.books.lots import lot_named
from kits.stock.books.pieces import OWN, covered
from kits.stock.dear import is_dear
from kits.stock.keeper import IN_PIECES, ITEM, StoreKind, Wanted
from kits.stock.models import Balance, BinCount, Lot, Posting
from kits.stock.places import Places, Why
from kits.stock.planned_acts import Act, PlannedMove, ticks_of
from kits.stock.records import WHY
from kits.stock.taking import lot_for_runs, lots_told, taken, which_lot
from takeoff.catalogue.models import Item
from takeoff.database.folding import folded
from takeoff.people.permissions import HAND_OUT, STORE
from takeoff.records.record_kinds import AT, BY, ID, Filing, register_kind
from takeoff.runs.models import Run, Stage
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Number, Reference, Text
from takeoff.sites.models import GOOD_KINDS, Place, Site, StageName
from takeoff.units.exact import from_ticks

MOST_NAMED = 6  # places in one sentence
# Ways in which something comes back from a stage, and where it goes.
GOOD, DAMAGED, SPOILED = "good", "damaged", "spoiled"
CONDITIONS = (GOOD, DAMAGED, SPOILED)

RUN = Column("run", Reference(to="run"), "The run.", required=True)
STAGE = Column("stage", Choice(tuple(StageName.values)), "The stage of the run.", required=True)
FIRST_EXPIRED = "first expired first out"


class CountsKind(StoreKind):
    """What was counted in bins. What is more than the books said at that moment is found, what is less is lost."""

    name = "counts"
    did = "Counted"
    order = 220
    rank = 2
    help = "What was counted in a bin. More than booked is found, less is lost; a first count is found."
    permission = STORE
    posts = Posting.Kind.COUNT
    may_need_a_look = True
    columns = (
        ID,
        ITEM,
        Column("bin", Text(120), "The bin; made when it is new.", required=True),
        Column("counted", Number(), f"How many are there{IN_PIECES}", required=True),
        AT,
        Column("lot", Text(60), "The lot that was counted.", default="", default_help="what has no lot"),
        Column("expires", Day(), "The lot's last usable day.", default_help="as known before"),
        Column("checked_by", Text(120), "Who else counted it, too.", default="", default_help="nobody"),
        WHY,
        BY,
    )

    def begin(self, site: Site, filings: Sequence[Filing]) -> tuple[str, ...]:
        """Read the names of the runs, where something that is made for runs was counted."""
        made_for_runs = any(filing["item"].for_run for filing in filings)
        return tuple(Run.objects.of(site).values_list("name", flat=True)) if made_for_runs else ()

    def wants(self, filing: Filing, begun: tuple[str, ...], wanted: Wanted) -> None:
        """Make the bin."""
        wanted.bins.append(filing["bin"])

    def act(self, places: Places, filing: Filing, begun: tuple[str, ...]) -> Act:
        """Return the act of a count: the difference to the books of its moment, from or to lost and found."""
        item, expires = filing["item"], filing["expires"]
        counted = ticks_of(filing["counted"], column="counted", zero=True)
        bin_, lost_found = places.bin(filing["bin"]), places.lost_found()
        lot = lot_named(filing["lot"], expires)
        if item.for_run and (lot or counted):
            lot = lot_for_runs(item, lot, begun)

        def steps(books: Books) -> list[PlannedMove]:
            if expires:
                books.tell_expiry(item.pk, lot, expires)
            assert books.now is not None
            if not lot:
                _ask_for_lot(books, item, bin_, places.good(), filing)
            books.counted(bin_.pk, item.pk, lot, books.now)
            known = books.as_of(bin_.pk, item.pk, lot, books.now)
            difference = counted - known
            _ask_for_other_eyes(filing, bin_, known, difference)
            if difference > 0:
                return [PlannedMove(item, difference, lost_found, bin_, lot)]
            return [PlannedMove(item, -difference, bin_, lost_found, lot)] if difference < 0 else []

        def papers(posting: Posting) -> list[Any]:
            counted_there = from_ticks(counted)
            return [BinCount(posting=posting, place=bin_, item=item, lot=lot, counted=counted_there)]

        return Act(
            posting=filing.prepared, items=(item,), places=(bin_, lost_found), steps=steps, picks=not lot, papers=papers
        )


class IssuesKind(StoreKind):
    """
    What was handed out to a stage of a run.

    Without a bin it comes from the boxes of the run's kits, then from pooled bins, first expired first out. With a
    lender it is borrowed: from the boxes of the lender's kits, then from the pool, out of the lender's share.
    """

    name = "issues"
    did = "Handed out"
    order = 230
    rank = 3
    help = "What was handed to a stage of a run. What is borrowed from another run is owed to it until it draws."
    permission = HAND_OUT
    posts = Posting.Kind.ISSUE
    columns = (
        ID,
        ITEM,
        Column("quantity", Number(above=True), f"How many were handed out{IN_PIECES}", required=True),
        RUN,
        STAGE,
        AT,
        Column("bin", Text(120), "Where they came from.", default="", default_help="the run's kit boxes, then any bin"),
        Column("lot", Text(60), "The lot.", default="", default_help=FIRST_EXPIRED),
        Column("lender", Reference(to="run"), "The run that they were borrowed from.", default_help="not borrowed"),
        BY,
    )

    def begin(self, site: Site, filings: Sequence[Filing]) -> StagesServed:
        """Read what the stages need and were handed, where parts are handed out of which each has its place."""
        parts = [filing for filing in filings if filing["item"].usage == Item.Usage.FIXED]
        return StagesServed.of(site, parts)

    def wants(self, filing: Filing, begun: StagesServed, wanted: Wanted) -> None:
        """Make the place of the stage."""
        wanted.work.append((Place.Kind.HANDED_OUT, filing["run"], filing["stage"]))

    def act(self, places: Places, filing: Filing, begun: StagesServed) -> Act:
        """Return the act of a hand-out. Raises LedgerError for a bin that is unknown or serves another run."""
        item, run, lender, lot = filing["item"], filing["run"], filing["lender"], filing["lot"]
        quantity = ticks_of(filing["quantity"])
        if filing.prepared.pk is None:  # what a load tells was stored ahead, and is long done: nobody looks at it
            filing.look += begun.serve(run, filing["stage"], item, quantity, lot)
        target = places.handed_out(run, filing["stage"])
        if lender == run:
            raise CannotBeError(
                f"{run} cannot borrow from itself.", column="lender", found=str(run), expected="another run, or nothing"
            )
        named = _bin_to_draw_from(places, filing) if filing["bin"] else None
        on = places.site.local_date(filing.at)

        def steps(books: Books) -> list[PlannedMove]:
            groups = [{named.pk: named}] if named else drawn_from(places, lender or run)
            _refuse_expired_lot(books, item, lot, on)
            return chosen_for(books, item, groups, quantity, target, run=run, on=on, lot=lot)

        return Act(
            posting=filing.prepared,
            items=(item,),
            places=(target, named) if named else (target,),
            steps=steps,
            picks=True,
        )


@dataclass(slots=True)
class StagesServed:
    """What stages need, were handed, and which are done: what is handed out beyond that is looked at, never refused."""

    needs: Counter[Need]
    out: Counter[Need]
    done: set[tuple[int, str]]
    covers: Mapping[tuple[int, str], Fraction]

    @classmethod
    def of(cls, site: Site, filings: Sequence[Filing]) -> StagesServed:
        """Read the stages of some hand-outs; nothing where there are none."""
        runs, lots = {filing["run"].pk for filing in filings}, {filing["lot"] for filing in filings} - {""}
        if not runs:
            return cls(Counter(), Counter(), set(), {})
        done = Stage.objects.of(site).filter(run__in=runs, done__isnull=False).values_list("run", "stage")
        named = Lot.objects.of(site).filter(code__in=lots) if lots else ()
        covers = {(lot.item_id, lot.code): Fraction(lot.covers) for lot in named}
        return cls(needs_of(site, runs), handed_out_of(site, runs), set(done), covers)

    def serve(self, run: Run, stage: str, item: Item, quantity: int, lot: str) -> list[str]:
        """Note a hand-out, in pieces of the lot that is named, and return what should be looked at. [ticks]"""
        quantity = covered(quantity, self.covers.get((item.pk, lot), OWN.each))
        key = run.pk, stage, item.pk
        if not self.needs[key] or item.usage != Item.Usage.FIXED:
            return []
        had, self.out[key] = self.out[key], self.out[key] + quantity
        if self.out[key] <= self.needs[key]:
            return []
        need, has = (f"{from_ticks(ticks).normalize():f}" for ticks in (self.needs[key], had))
        told = f"{run}, {stage} needs {need} {item} and has {has} already."
        return [f"{told} It is reported as done." if (run.pk, stage) in self.done else told]


class ReturnsKind(StoreKind):
    """
    What came back from a stage of a run.

    Good goes to its bin, damaged to quarantine; spoiled stays counted as used by the stage. Without a lot it is taken
    to be of the lot that keeps longest, since what expires first is used first, and of the item itself before what came
    in its place.
    """

    name = "returns"
    did = "Came back"
    order = 240
    rank = 4
    help = "What came back from a stage of a run. What was spoiled there stays counted as used."
    permission = HAND_OUT
    posts = Posting.Kind.RETURN
    columns = (
        ID,
        ITEM,
        Column("quantity", Number(above=True), f"How many came back{IN_PIECES}", required=True),
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
            target = places.quarantine(Why.DAMAGED) if filing["condition"] == DAMAGED else places.spoiled(run, stage)
        taken_from = [{source.pk: source}]

        def steps(books: Books) -> list[PlannedMove]:
            back = partial(taken, books, item, taken_from, quantity, target, lot=filing["lot"], last_first=True)
            if not filing["lot"]:
                with suppress(LackingError):
                    return back(turn=lambda lot: 0 if books.piece(item.pk, lot) is OWN else None)
            return back()

        return Act(posting=filing.prepared, items=(item,), places=(source, target), steps=steps)


def _ask_for_other_eyes(filing: Filing, bin_: Place, known: int, difference: int) -> None:
    """Note that a difference is worth much and nobody else counted, too; a first count has none."""
    said = f"{filing['item']} in {bin_} differs by much. Let somebody else count it, too, before it is kept."
    filing.look[:] = [text for text in filing.look if text != said]
    alone = folded(filing["checked_by"]) in ("", folded(filing["by"]))
    if known > 0 and alone and is_dear(filing["item"], abs(difference), bin_.site):
        filing.look.append(said)


def _ask_for_lot(books: Books, item: Item, bin_: Place, good: Sequence[Place], filing: Filing) -> None:
    """Refuse a count without a lot where only lots lie, which it would count twice; note lots that lie elsewhere."""
    there = books.lying(item.pk, [bin_.pk])
    if there and all(one.lot for one in there):
        raise which_lot(item, str(bin_), there)
    if there or not books.has_lots(item.pk):
        return
    if elsewhere := [one for one in books.lying(item.pk, [place.pk for place in good]) if one.lot]:
        lots = lots_told(elsewhere)
        said = f"{item} lies elsewhere by lot ({lots}); this count names none, so it is found without a lot."
        filing.look[:] = [*(text for text in filing.look if text != said), said]


def _bin_to_draw_from(places: Places, filing: Filing) -> Place:
    try:
        place = places.known(filing["bin"])
    except UnknownPlaceError as error:
        if lies := _lies_in(places.site, filing["item"]):
            error.args = (f"{error} {filing['item']} lies in {lies}.",)
        raise
    if not Place.Kind(place.kind).holds_good_stock:
        raise UnknownPlaceError(
            f"{place.name} holds nothing that can be handed out.",
            column="bin",
            found=filing["bin"],
            expected="a bin or kit box",
        )
    if place.kind == Place.Kind.GANG_BOX:
        raise UnknownPlaceError(
            f"{place.name} is counted: what is gone from it went to that crew's stages, nothing is handed out of it.",
            column="bin",
            found=filing["bin"],
            expected="a bin or kit box; out of a gang box it is moved back first",
        )
    owner = places.owner(place)
    run = filing["run"]
    if owner is not None and owner not in (run, filing["lender"]):
        raise UnknownPlaceError(
            f"{place.name} is the box of {owner}: say that it is borrowed from {owner}.",
            column="bin",
            found=filing["bin"],
            expected=f"a pooled bin, a box of {run}, or {owner} as the lender",
        )
    return place


def _lies_in(site: Site, item: Item) -> str:
    rows = Balance.objects.of(site).filter(item=item, place__kind__in=GOOD_KINDS, quantity__gt=0)
    return ", ".join(rows.order_by("place__name").values_list("place__name", flat=True).distinct()[:MOST_NAMED])


def _refuse_expired_lot(books: Books, item: Item, lot: str, on: date) -> None:
    expires = books.expires(item.pk, lot)
    if lot and expires and expires < on:
        raise LotError(
            f"Lot {lot} of {item} could be used to {expires:%Y-%m-%d}: it is not handed out.",
            column="lot",
            found=lot,
            expected=f"a lot usable on {on:%Y-%m-%d}, or blank for the first to expire",
        )


for _kind in (CountsKind, IssuesKind, ReturnsKind):
    register_kind(_kind())
