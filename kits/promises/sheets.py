"""The table `kits`."""

from __future__ import annotations

from collections.abc import Sequence

from kits.orders.order_doubts import look_at_half
from kits.promises import services
from kits.promises.models import Kit, KitLine
from takeoff.sheets.agreeing import first_rows, told_change
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Number, Reference, Text
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import by_name, register, register_reference
from takeoff.sheets.tables import DescriptionTable, Row

OF_THE_KIT = ("run", "revision")


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
    of_whole = OF_THE_KIT

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change kits, and replace what they hold."""
        for row in rows:
            look_at_half(context, row, row["item"])
        known = context.lookup("kit")
        new, changed = [], []
        for name, row in first_rows(context, rows).items():
            kit = known.get(name)
            if kit is None:
                kit = Kit(site=context.site, name=name, run=row["run"], revision=row["revision"])
                new.append(kit)
                continue
            details = []
            for field in OF_THE_KIT:
                if row.gives(field) and getattr(kit, field) != row[field]:
                    details.append(told_change(field, getattr(kit, field), row[field]))
                    setattr(kit, field, row[field])
            if details:
                changed.append(kit)
                context.count(self.name, "changed", name, tuple(details))
        services.save_kits(site=context.site, new=new, changed=changed)
        for kit in new:
            context.remember("kit", kit.name, kit)
        kits = context.lookup("kit")
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
        services.save_kit_lines(site=context.site, matched=matched)


register(KitsTable())
register_reference("kit", by_name(lambda site: Kit.objects.of(site).select_related("run")))
