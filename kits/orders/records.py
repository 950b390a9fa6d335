"""What was done about orders, and what suppliers confirmed: the kinds of record."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping, Sequence
from typing import Any

from kits.orders.course.order_steps import Step
from kits.orders.models import How, Order
from kits.orders.order_book import OrderBook
from takeoff.database.locks import lock
from takeoff.people.permissions import ORDER
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, register_kind
from takeoff.records.terms.errors import RecordError
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Number, Reference, Text
from takeoff.sheets.cells.measured import Length
from takeoff.sites.models import Site

SAID = tuple(step.value for step in Step if step is not Step.PART_RECEIVED)  # which follows from counts
HOW = Choice(tuple(How.values))
LINE = (
    Column("item", Reference(to="item"), "The item of the line.", default_help="none"),
    Column("cable", Reference(to="cable"), "The cable of the line.", default_help="none"),
    Column(
        "run", Reference(to="run"), "The run it is made for, where several lines have the item.", default_help="any"
    ),
    Column(
        "reel_length", Length(above_zero=True), "Of a reel, where several lines have the cable.", default_help="any"
    ),
)
ORDER_NAME = Column("order", Reference(to="order"), "The order.", required=True)


class OrderKeeper(Keeper):
    """Keeps what was done about orders."""

    order = 5

    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Lock the orders that are named: of two who end one, the second is told."""
        names = {filing.row.said.get("order") for filing in filings}
        names |= {(filing.reverses.row or {}).get("order") for filing in filings if filing.reverses}
        lock(Order.objects.of(site).filter(name__in=names - {None}))

    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Keep each record, or put on it why not."""
        book = OrderBook(site, filings)
        for filing in filings:
            try:
                if filing.reverses:
                    book.take_back(filing)
                else:
                    assert isinstance(filing.kind, OrderKind)
                    filing.kind.add(book, filing)
            except RecordError as error:
                filing.error = error
        book.write()


class OrderKind(RecordKind):
    """Something that is reported of an order."""

    permission = ORDER
    keeper = OrderKeeper()
    looked_at = "order"

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the order that it is about."""
        return f"order {said['order']}"

    @abstractmethod
    def add(self, book: OrderBook, filing: Filing) -> None:
        """Add what is said to its order. Raises RecordError."""


class OrderStepsKind(OrderKind):
    """What was done about an order."""

    name = "order_steps"
    did = "Order"
    order = 286
    rank = 8
    help = (
        "What was done about an order: asked for, sent, confirmed, chased, re-dated, its rest cancelled, closed. "
        "How far the order is follows from it."
    )
    columns = (
        ID,
        ORDER_NAME,
        Column("step", Choice(SAID), "What was done.", required=True),
        AT,
        *LINE,
        Column("whom", Text(120), "Who was asked or called, or who said it.", default="", default_help="not said"),
        Column("how", HOW, "How their word came.", default="", default_help="not said; a new day: by phone"),
        Column("po", Text(60), "The purchase order's number, where it is sent.", default="", default_help="to follow"),
        Column("expected", Day(), "The day on which all of it comes, where one is said.", default_help="not said"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
        BY,
    )

    def told(self, said: Mapping[str, Any]) -> str:
        """Return the order and the step."""
        return f"{self.did} {said['order']}: {said['step']}"

    def add(self, book: OrderBook, filing: Filing) -> None:
        """Add the step."""
        book.add_step(filing)


class RepliesKind(OrderKind):
    """What a supplier confirmed."""

    name = "replies"
    did = "Reply"
    order = 289
    rank = 8
    help = (
        "What a supplier confirmed of a line of an order, a row for each delivery. Rows with the same reply add up; "
        "of several replies to a line the last one counts."
    )
    may_need_a_look = True
    prices = frozenset({"price"})
    columns = (
        ID,
        ORDER_NAME,
        Column("quantity", Number(), "How much of the line is confirmed; 0 where nothing of it comes.", required=True),
        Column("how", HOW, "How their word came.", required=True),
        AT,
        *LINE,
        Column("arrives", Day(), "The day on which it arrives.", default_help="not said"),
        Column("reply", Text(80), "What all rows of one reply share.", default="", default_help="the row's own id"),
        Column("price", Number(), "Of one unit, in the site's money, where they name one.", default_help="not said"),
        Column("other_part", Text(120), "The part that they offer instead.", default="", default_help="none"),
        Column("said_by", Text(120), "Who said it.", default="", default_help="not said"),
        Column("note", Text(300), "What else they say.", default="", default_help="none"),
        BY,
    )

    def add(self, book: OrderBook, filing: Filing) -> None:
        """Add what is confirmed."""
        book.add_reply(filing)


register_kind(OrderStepsKind())
register_kind(RepliesKind())
