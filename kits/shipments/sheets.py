"""The table `shipments`."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from kits.orders.order_doubts import look_at_half
from kits.shipments.models import Package, PackingLine, Shipment
from kits.shipments.packs import PackError, pieces_per_pack
from kits.shipments.services import make_packages
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import MOST, Choice, Day, Number, Reference, Text
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import by_name, register, register_reference
from takeoff.sheets.saving import save_matched, save_wholes
from takeoff.sheets.table_kinds import DescriptionTable, Row
from takeoff.units.exact import NotExactError, to_ticks
from takeoff.units.shown import decimal


class ShipmentsTable(DescriptionTable):
    """What suppliers sent, by their packing lists."""

    name = "shipments"
    order = 140
    help = "What suppliers sent: their packing lists, package by package."
    columns = (
        Column("shipment", Text(60), "The shipment.", required=True, example="SHP-01"),
        Column("supplier", Reference(to="supplier"), "Who sent it.", required=True),
        Column("item", Reference(to="item"), "What the list names.", required=True),
        Column("quantity", Number(above=True), "How many, in what the list counts in.", required=True),
        Column("package", Text(60), "Crate, box or pallet.", default="", default_help="none named"),
        Column("unit", Text(20), "What the list counts in: the item's unit, box or pack.", default=""),
        Column("per_pack", Number(above=True), "How many one of these holds.", default_help="by unit, else 1"),
        Column("kit", Reference(to="kit"), "The kit that it belongs to.", default_help="none"),
        Column("order", Reference(to="order"), "The order that it answers.", default_help="none"),
        Column("carrier", Text(120), "Who brings it.", default=""),
        Column("shipped", Day(), "When it left.", default_help="nobody said"),
        Column("expected", Day(), "When it is expected.", default_help="nobody said"),
        Column(
            "risk",
            Choice(("ours", "theirs")),
            "At whose risk it travels: ours or theirs, by the terms of the order.",
            default="",
            default_help="not known",
        ),
    )
    key = ("shipment", "package", "item", "kit", "order")
    names = {"shipment": "shipment"}
    whole = "shipment"
    of_whole = ("supplier", "carrier", "shipped", "expected", "risk")

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change shipments, packages and the lines of packing lists."""
        shipments = save_wholes(context, self, rows, Shipment)
        packages = make_packages(
            site=context.site,
            wanted=[(shipments[row["shipment"]], row["package"]) for row in rows if row["package"]],
        )

        def package(row: Row) -> Package | None:
            return packages[shipments[row["shipment"]].pk, row["package"]] if row["package"] else None

        for row in rows:
            look_at_half(context, row, row["item"])
        holds = {id(row): pieces for row in rows if (pieces := _pieces(context, row)) is not None}
        lines = PackingLine.objects.of(context.site).filter(shipment__in={shipments[r["shipment"]].pk for r in rows})
        matched = match(
            context,
            [row for row in rows if id(row) in holds],
            model=PackingLine,
            existing={(ln.shipment_id, ln.package_id, ln.item_id, ln.kit_id, ln.order_id): ln for ln in lines},
            key=lambda row: (
                shipments[row["shipment"]].pk,
                *(thing and thing.pk for thing in (package(row), row["item"], row["kit"], row["order"])),
            ),
            values=lambda row: {"quantity": row["quantity"] * holds[id(row)], "per_pack": holds[id(row)]},
            columns={"per_pack": "quantity"},  # what a list counts in is part of its quantity
            identity=lambda row: {
                "shipment": shipments[row["shipment"]],
                "package": package(row),
                "item": row["item"],
                "kit": row["kit"],
                "order": row["order"],
            },
        )
        save_matched(context, matched)


def _pieces(context: LoadContext, row: Row) -> Decimal | None:
    """Return how many pieces one of what the list counts holds, or None when that is a problem."""
    item = row["item"]
    try:
        pieces = pieces_per_pack(
            unit=row["unit"], per_pack=row["per_pack"], item_unit=item.unit, pack=item.pack, per_box=item.per_box
        )
        if row["quantity"] * pieces > MOST:
            context.problem(row, "quantity", expected=f"at most {decimal(MOST)} pieces in all")
            return None
        to_ticks(row["quantity"] * pieces)
    except PackError as error:
        context.problem(row, error.column, expected=error.expected)
        return None
    except NotExactError as error:
        context.problem(row, "quantity", expected=f"a number whose pieces four decimal places hold: {error}")
        return None
    return pieces


register(ShipmentsTable())
register_reference("shipment", by_name(lambda site: Shipment.objects.of(site).select_related("supplier")))
