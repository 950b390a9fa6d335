"""What is left in a crew's gang box: a kind of record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from kits.gang_boxes.served import CrewWork, Work, read_crew_work
from kits.stock.books.balances import Books
from kits.stock.books.errors import CannotBeError, LedgerError
from kits.stock.books.pieces import covered
from kits.stock.books.shares import shared
from kits.stock.keeper import IN_PIECES, ITEM, StoreKind, Wanted
from kits.stock.models import BinCount, BoxShare, Posting
from kits.stock.places import Places, box_of_crew
from kits.stock.planned_acts import Act, PlannedMove, ticks_of
from kits.stock.records import WHY
from takeoff.catalogue.models import Item
from takeoff.database.folding import folded
from takeoff.people.permissions import HAND_OUT
from takeoff.records.record_kinds import AT, BY, ID, Filing, register_kind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Number, Text
from takeoff.sites.models import Place, Site
from takeoff.units.exact import from_ticks
from takeoff.units.unit_words import in_stock, unit_for

HALF, NOT_KNOWN = "half", "not known"


class BoxCountsKind(StoreKind):
    """
    What was left in a crew's gang box. What is gone went to the stages that the crew has worked on since.

    It is shared over them by what they need and have not been handed. What is more than was known to be there is found.
    """

    name = "box_counts"
    did = "Counted"
    order = 225
    rank = 2
    help = "What is left in a crew's gang box. What is gone went to the stages that the crew has worked on since."
    permission = HAND_OUT
    posts = Posting.Kind.COUNT
    columns = (
        ID,
        ITEM,
        Column("crew", Text(60), "The crew whose box it is.", required=True),
        AT,
        Column("counted", Number(), f"How many are left{IN_PIECES}", default_help="about half, where that is said"),
        Column("about", Choice((HALF,)), "That about half of what was there is left.", default_help="a figure is told"),
        Column("lot", Text(60), "The lot.", default="", default_help="what has no lot"),
        Column(
            "gone_to",
            Choice((NOT_KNOWN,)),
            "Where what is gone went, where the crew has worked on no stage that needs it: then it is lost.",
            default_help="the stages that the crew has worked on since",
        ),
        WHY,
        BY,
    )

    def told(self, said: Mapping[str, Any]) -> str:
        """Return in words what was counted."""
        return super().told(said if said.get("counted") else {**said, "counted": f"about {HALF} of"})

    def brings(self, said: Mapping[str, Any]) -> tuple[str, ...]:
        """Return the box that the record makes where it is new."""
        return (f"bin {folded(box_of_crew(said['crew']))}",)

    def begin(self, site: Site, filings: Sequence[Filing]) -> CrewWork:
        """Read what the crews have worked on."""
        return read_crew_work(site, ((each["crew"], each["item"], each["lot"], each.at) for each in filings))

    def wants(self, filing: Filing, begun: CrewWork, wanted: Wanted) -> None:
        """Make the box, and the places of the stages over which it may be shared."""
        wanted.gangs.append(box_of_crew(filing["crew"]))
        wanted.work += [(Place.Kind.HANDED_OUT, run, stage) for run, stage in _served(filing, begun)]

    def act(self, places: Places, filing: Filing, begun: CrewWork) -> Act:
        """Return the act of a count. Raises LedgerError for what no gang box holds, and where nobody said how many."""
        item, lot, about = filing["item"], filing["lot"], filing["about"]
        box, lost_found = places.gang_box(filing["crew"]), places.lost_found()
        if item.usage == Item.Usage.FIXED:
            raise LedgerError(f"{item} is handed out to a run and stage: no gang box holds it.", column="item")
        if (filing["counted"] is None) != (about is not None):
            raise CannotBeError(
                "Say how many are left, or that it is about half.", column="counted", expected="a figure, or about half"
            )
        counted = None if about else ticks_of(filing["counted"], column="counted", zero=True)
        works = {places.handed_out(*work).pk: work for work in _served(filing, begun)}
        stages = {key: places.handed_out(*work) for key, work in works.items()}
        seen = _Seen()

        def steps(books: Books) -> list[PlannedMove]:
            assert books.now is not None
            there = books.as_of(box.pk, item.pk, lot, books.now)
            seen.left = in_stock(max(0, there) // 2, item.unit) if counted is None else counted
            seen.weights = {} if filing["gone_to"] == NOT_KNOWN else _weights(books, item, begun, works)
            books.counted(box.pk, item.pk, lot, books.now)
            books.shares[filing.id] = seen.weights
            gone = there - seen.left
            if gone <= 0:
                return [PlannedMove(item, -gone, lost_found, box, lot)] if gone else []
            if seen.weights:
                shares = zip(seen.weights, shared(gone, list(seen.weights.values())), strict=True)
                return [PlannedMove(item, part, box, stages[key], lot) for key, part in shares if part]
            if filing["gone_to"] != NOT_KNOWN:
                raise _nowhere(filing, item, gone)
            return [PlannedMove(item, gone, box, lost_found, lot)]

        def papers(posting: Posting) -> list[Any]:
            count = BinCount(posting=posting, place=box, item=item, lot=lot, counted=from_ticks(seen.left))
            weights = seen.weights.items()
            shares = [BoxShare(posting=posting, place=stages[key], weight=from_ticks(each)) for key, each in weights]
            return [count, *shares]

        return Act(
            posting=filing.prepared,
            items=(item,),
            places=(box, lost_found, *stages.values()),
            steps=steps,
            papers=papers,
        )


@dataclass(slots=True)
class _Seen:
    """What a count found left, and over what it shares the rest. [ticks]"""

    left: int = 0
    weights: dict[int, int] = field(default_factory=dict)


def _served(filing: Filing, begun: CrewWork) -> list[Work]:
    return begun.served(filing["crew"], filing["item"], filing["lot"], filing.at)


def _weights(books: Books, item: Item, begun: CrewWork, works: Mapping[int, Work]) -> dict[int, int]:
    """Return by place what stages need and have not been handed; what they need, where all have been. [ticks]"""
    needs = {key: begun.needs[run.pk, stage, item.pk] for key, (run, stage) in works.items()}
    had = {key: sum(covered(one.quantity, one.piece.each) for one in books.lying(item.pk, [key])) for key in works}
    lacking = {key: max(0, need - had[key]) for key, need in needs.items()}
    return lacking if any(lacking.values()) else needs


def _nowhere(filing: Filing, item: Item, gone: int) -> LedgerError:
    told = f"{from_ticks(gone)} {unit_for(item.unit, gone)}"
    return LedgerError(
        f"{told} of {item} are gone, and {filing['crew']} has worked on no stage since that needs it.",
        column="gone_to",
        expected=f"{NOT_KNOWN}, and it is lost; else report the stage as done, or hand something out to it, first",
        lacks="stock",
    )


register_kind(BoxCountsKind())
