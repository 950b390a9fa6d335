"""The tables of what happened in the store: `receipts`, `returns`, `counts` and `issues`."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Mapping, Sequence

from kits.events.services import record_events
from kits.issuing.requests import CONDITIONS, GOOD, GiveBack, HandOut, StockCount
from kits.issuing.services import Request
from kits.receiving.acts import Condition, Counted, CountedDelivery
from kits.shipments.models import Package
from kits.stock.services import posted_content
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Moment, Number, Reference, Text, YesNo, one_of
from takeoff.sheets.context import LoadContext
from takeoff.sheets.registry import register, register_reference
from takeoff.sheets.tables import EventTable, Row
from takeoff.sites.models import StageName

ID = Column("id", Text(80), "The event's own id; the same id is posted once.", required=True, example="E-0001")
AT = Column("at", Moment(), "When it happened.", required=True)
ITEM = Column("item", Reference(to="item"), "The item.", required=True)
RUN = Column("run", Reference(to="run"), "The run.", required=True)
STAGE = Column("stage", Choice(tuple(StageName.values)), "The stage of the run.", required=True)
BY = Column("by", Text(120), "Who did it.", default="", default_help="not said")
LOT = Column("lot", Text(60), "The lot.", default="", default_help="none")


class StoreEvents(EventTable):
    """What the four tables share: one ledger, one poster."""

    correction = "reverse the posting and post anew under another id"

    def known(self, context: LoadContext, ids: Sequence[str]) -> Mapping[str, str]:
        """Return the content of the events that are posted."""
        return posted_content(context.site, ids)

    @abstractmethod
    def event(self, context: LoadContext, row: Row) -> CountedDelivery | Request | None:
        """Return what a row says happened, or None when that is a problem."""

    @staticmethod
    def poster(context: LoadContext, rows: Iterable[Row]) -> None:
        """Post what happened, in the order of the rows. What is doubtful but happened is posted with a caution."""
        events: list[tuple[Row, CountedDelivery | Request]] = []
        for row in rows:
            assert isinstance(row.table, StoreEvents)
            event = row.table.event(context, row)
            if event is not None:
                events.append((row, event))
        happened = record_events(site=context.site, events=[event for _, event in events])
        for (row, _), each in zip(events, happened, strict=True):
            error = each.outcome.error
            if error:
                context.problem(row, error.column, expected=error.expected, found=error.found or None)
            for caution in each.cautions:
                context.caution(row, "item", caution)


class ReceiptsTable(StoreEvents):
    """What was counted of what shipments brought."""

    name = "receipts"
    order = 210
    rank = 1
    help = "What was counted of a shipment, item by item. What is not counted has no row: nothing is guessed."
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
        LOT,
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

    def event(self, context: LoadContext, row: Row) -> CountedDelivery | None:
        """Return the delivery of one counted item."""
        shipment = row["shipment"]
        package = None
        if row["package"]:
            packages = context.lookup("package")
            package = packages.get(f"{shipment.name}\n{row['package']}")
            if package is None:
                names = [name.split("\n")[1] for name in packages if name.startswith(f"{shipment.name}\n")]
                known = one_of(names, row["package"]) if names else "it names none"
                context.problem(row, "package", expected=f"a package of {shipment}: {known}")
                return None
        counted = Counted(
            item=row["item"],
            counted=row["counted"],
            package=package,
            condition=row["condition"],
            came_item=row["came_item"],
            grade=row["grade"],
            lot=row["lot"],
            made=row["made"],
            expires=row["expires"],
            bin=row["bin"],
            partial=row["part"],
            note=row["note"],
        )
        return CountedDelivery(
            event_id=row["id"],
            shipment=shipment,
            at=row["at"],
            lines=(counted,),
            recorded_by=context.user,
            said_hash=row.content_hash,
        )


class ReturnsTable(StoreEvents):
    """What came back from stages."""

    name = "returns"
    order = 220
    rank = 2
    help = "What came back from a stage of a run. What was spoiled there stays counted as used."
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

    def event(self, context: LoadContext, row: Row) -> GiveBack:
        """Return what came back."""
        return GiveBack(
            event_id=row["id"],
            item=row["item"],
            quantity=row["quantity"],
            run=row["run"],
            stage=row["stage"],
            at=row["at"],
            condition=row["condition"],
            bin=row["bin"],
            lot=row["lot"],
            by=row["by"],
            recorded_by=context.user,
            said_hash=row.content_hash,
        )


class CountsTable(StoreEvents):
    """What was counted in bins."""

    name = "counts"
    order = 230
    rank = 3
    help = "What was counted in a bin. More than booked is found, less is lost; a first count is found."
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

    def event(self, context: LoadContext, row: Row) -> StockCount:
        """Return what was counted."""
        return StockCount(
            event_id=row["id"],
            item=row["item"],
            bin=row["bin"],
            counted=row["counted"],
            at=row["at"],
            lot=row["lot"],
            expires=row["expires"],
            by=row["by"],
            recorded_by=context.user,
            said_hash=row.content_hash,
        )


class IssuesTable(StoreEvents):
    """What was handed out."""

    name = "issues"
    order = 240
    rank = 4
    help = "What was handed to a stage of a run. A lender's stock is borrowed, and owed until the lender draws."
    columns = (
        ID,
        ITEM,
        Column("quantity", Number(above=True), "How many were handed out.", required=True),
        RUN,
        STAGE,
        AT,
        Column("bin", Text(120), "Where they came from.", default="", default_help="the run's kit boxes, then any bin"),
        Column("lot", Text(60), "The lot.", default="", default_help="first expired first out"),
        Column("lender", Reference(to="run"), "The run that they were borrowed from.", default_help="not borrowed"),
        BY,
    )

    def event(self, context: LoadContext, row: Row) -> HandOut:
        """Return what was handed out."""
        return HandOut(
            event_id=row["id"],
            item=row["item"],
            quantity=row["quantity"],
            run=row["run"],
            stage=row["stage"],
            at=row["at"],
            bin=row["bin"],
            lot=row["lot"],
            lender=row["lender"],
            by=row["by"],
            recorded_by=context.user,
            said_hash=row.content_hash,
        )


for _table in (ReceiptsTable, ReturnsTable, CountsTable, IssuesTable):
    register(_table())
register_reference(
    "package",
    lambda site: {
        f"{package.shipment.name}\n{package.name}": package
        for package in Package.objects.of(site).select_related("shipment")
    },
)
