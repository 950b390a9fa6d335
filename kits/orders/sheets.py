"""The table `orders`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Model

from kits.orders.models import Order, OrderLine
from kits.orders.order_doubts import look_at_orders, tell_orders
from kits.orders.services import note_sent, step_to_states
from takeoff.database.locks import lock
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Number, Reference, Text
from takeoff.sheets.cells.measured import Length
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import by_name, register, register_follower, register_lock, register_reference
from takeoff.sheets.saving import save_matched, save_wholes
from takeoff.sheets.table_kinds import DescriptionTable, Row


class OrdersTable(DescriptionTable):
    """What was ordered."""

    name = "orders"
    order = 130
    help = "What was ordered from whom. Drafts do not count as coming."
    columns = (
        Column("order", Text(60), "The order.", required=True, example="ORD-01"),
        Column("supplier", Reference(to="supplier"), "Who it went to.", required=True),
        Column("quantity", Number(above=True), "How many, in the item's unit; of a cable, reels.", required=True),
        Column("item", Reference(to="item"), "What was ordered; each row has an item or a cable.", default_help="none"),
        Column("cable", Reference(to="cable"), "Which cable was ordered.", default_help="none"),
        Column("run", Reference(to="run"), "The run that it is made for.", default_help="for any run"),
        Column("size", Text(60), "Its size, where it is cut or drilled for the run.", default=""),
        Column(
            "kind",
            Choice(tuple(OrderLine.Charge.values)),
            "Whether it is paid for, or a free replacement.",
            default=OrderLine.Charge.CHARGE.value,
        ),
        Column(
            "reel_length",
            Length(above_zero=True),
            "How long each reel of a cable is; a row with a cable has it.",
            default_help="none",
        ),
        Column("expected", Day(), "When it is expected.", default_help="the day it was sent and the lead time"),
        Column(
            "sent",
            Day(),
            "When the order was sent.",
            default_help="as known; of an order that is no draft, the day it was loaded",
        ),
        Column("po", Text(60), "The purchase order's number.", default=""),
        Column("state", Choice(tuple(Order.State.values)), "How far it is.", default=Order.State.SENT.value),
    )
    key = ("order", "item", "cable", "run", "reel_length")
    names = {"order": "order"}
    whole = "order"
    of_whole = ("supplier", "po", "state")

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change orders and their lines."""
        rows = [row for row in rows if _is_of_one_ware(context, row)]
        look_at_orders(
            context,
            rows,
            context.lookup("order"),
            OrderLine.objects.of(context.site).filter(order__name__in={row["order"] for row in rows}),
        )
        states = {name: order.state for name, order in context.lookup("order").items()}
        for row in rows:
            state = states.get(row["order"])
            if row["state"] == Order.State.SENT and state is not None and Order.State(state).is_open:
                row.values["state"] = state  # what is confirmed was sent, too: that says nothing new
        orders = save_wholes(context, self, rows, Order)
        named = {orders[row["order"]].pk for row in rows}
        moved = [order for order in orders.values() if states.get(order.name) != order.state]
        step_to_states(orders=moved, sender=context.user)
        lines = OrderLine.objects.of(context.site).filter(order__in=named)
        known_lines = {
            (line.order_id, line.item_id, line.cable_id, line.run_id, line.reel_length): line for line in lines
        }

        def key(row: Row) -> tuple[Any, ...]:
            things = (_pk(row[name]) for name in ("item", "cable", "run"))
            return orders[row["order"]].pk, *things, row["reel_length"]

        def values(row: Row) -> dict[str, Any]:
            given = {name: row[name] for name in ("quantity", "size", "kind", "expected", "sent")}
            if given["sent"] is None and (known := known_lines.get(key(row))):
                given["sent"] = known.sent
            return given

        matched = match(
            context,
            rows,
            model=OrderLine,
            existing=known_lines,
            key=key,
            values=values,
            identity=lambda row: {
                "order": orders[row["order"]],
                **{name: row[name] for name in ("item", "cable", "run", "reel_length")},
            },
        )
        save_matched(context, matched)
        note_sent(site=context.site, orders=named, on=context.site.today())


def _is_of_one_ware(context: LoadContext, row: Row) -> bool:
    """Return whether a row orders an item, or whole reels of one length of a cable; else say what is wrong with it."""
    wrong = len(context.problems)
    item, cable, length = row["item"], row["cable"], row["reel_length"]
    if item is not None and cable is not None:
        context.problem(row, "cable", found=str(cable), expected="an item or a cable in a row, not both")
    elif item is None and cable is None:
        context.problem(row, "item", expected="an item or a cable")
    elif cable is None and length is not None:
        context.problem(row, "reel_length", expected="no length of a reel for an item")
    elif cable is not None and length is None:
        context.problem(row, "reel_length", expected="the length of each reel of the cable")
    if cable is not None and row["quantity"] % 1:
        context.problem(row, "quantity", expected="a whole number of reels")
    return len(context.problems) == wrong


def _pk(record: Model | None) -> Any:
    return None if record is None else record.pk


register(OrdersTable())
register_follower(
    tables={"site", "items", "rules", "runs", "ends", "sections", "crossings", "conductors"}, follow=tell_orders
)
register_lock("order", lambda site, names: lock(Order.objects.of(site).filter(name__in=names).only("pk")))
register_reference("order", by_name(lambda site: Order.objects.of(site).select_related("supplier")))
