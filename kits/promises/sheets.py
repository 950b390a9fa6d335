"""The table `kits`."""

from __future__ import annotations

from collections.abc import Sequence

from kits.orders.order_doubts import look_at_half
from kits.promises.models import Kit, KitLine
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Number, Reference, Text
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import by_name, register, register_reference
from takeoff.sheets.saving import save_matched, save_wholes
from takeoff.sheets.table_kinds import DescriptionTable, Row


class KitsTable(DescriptionTable):
    """What was promised, kit by kit."""

    name = "kits"
    order = 120
    help = "What a supplier promised for a run or for the site. The rows of a kit are the whole kit."
    columns = (
        Column("kit", Text(60), "The kit.", required=True, example="KIT-01"),
        Column("item", Reference(to="item"), "What is in it.", required=True),
        Column("quantity", Number(above=True), "How many, in the item's unit.", required=True),
        Column("run", Reference(to="run"), "The run that it is for.", default_help="for the site"),
        Column("revision", Text(20), "Revision of the drawing it was promised against.", default=""),
    )
    key = ("kit", "item")
    names = {"kit": "kit"}
    replaces = "kit"
    whole = "kit"
    of_whole = ("run", "revision")

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change kits, and replace what they hold."""
        for row in rows:
            look_at_half(context, row, row["item"])
        kits = save_wholes(context, self, rows, Kit)
        named = {kits[row["kit"]].pk for row in rows}
        lines = KitLine.objects.of(context.site).filter(kit__in=named).select_related("kit", "item")
        matched = match(
            context,
            rows,
            model=KitLine,
            existing={(line.kit_id, line.item_id): line for line in lines},
            key=lambda row: (kits[row["kit"]].pk, row["item"].pk),
            values=lambda row: {"quantity": row["quantity"]},
            identity=lambda row: {"kit": kits[row["kit"]], "item": row["item"]},
        )
        save_matched(context, matched)


register(KitsTable())
register_reference("kit", by_name(lambda site: Kit.objects.of(site).select_related("run")))
