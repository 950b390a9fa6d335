"""The table `offers`: what suppliers asked for an item, and since when."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from takeoff.catalogue.models import Offer
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Day, Money, Number, Reference, Text, Whole
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import register
from takeoff.sheets.saving import save_matched
from takeoff.sheets.table_kinds import DescriptionTable, Row

SAID = ("valid_until", "price", "pack", "min_order", "lead_time_days")


class OffersTable(DescriptionTable):
    """What suppliers ask for an item."""

    name = "offers"
    order = 45
    help = (
        "What a supplier asks for an item. The rows of one item, supplier, part and day are one offer, which a later "
        "one replaces; a price for more is another row with its own from_quantity."
    )
    columns = (
        Column("item", Reference(to="item"), "The item.", required=True),
        Column("supplier", Reference(to="supplier"), "Who offers it.", required=True),
        Column("price", Money(), "Price of one unit of the item.", required=True, example="1.25"),
        Column("offered", Day(), "The day of the offer.", required=True, example="2026-03-02"),
        Column("supplier_part", Text(60), "The supplier's part number.", default=""),
        Column(
            "from_quantity",
            Number(),
            "The price holds from this many on.",
            default=Decimal(0),
            default_help="any number",
        ),
        Column("pack", Number(above=True), "Sold in whole packs of this many.", default=Decimal(1)),
        Column("min_order", Number(), "The least that can be ordered.", default=Decimal(0)),
        Column(
            "lead_time_days",
            Whole(most=3650),
            "Days from order to delivery, counted as the supplier's.",
            default_help="the supplier's lead time",
        ),
        Column("valid_until", Day(), "The last day of the offer.", default_help="until another replaces it"),
    )
    key = ("item", "supplier", "supplier_part", "offered", "from_quantity")

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change offers."""
        rows = [row for row in rows if _ends_after_its_day(context, row)]
        offers = Offer.objects.of(context.site).filter(item__in={row["item"].pk for row in rows})
        matched = match(
            context,
            rows,
            model=Offer,
            existing={
                (one.item_id, one.supplier_id, one.part, one.offered, one.from_quantity): one for one in offers
            },
            key=lambda row: (
                row["item"].pk, row["supplier"].pk, row["supplier_part"], row["offered"], row["from_quantity"]
            ),
            identity=lambda row: {
                "item": row["item"],
                "supplier": row["supplier"],
                "part": row["supplier_part"],
                "offered": row["offered"],
                "from_quantity": row["from_quantity"],
            },
            values=lambda row: {name: row[name] for name in SAID},
        )  # fmt: skip
        save_matched(context, matched)


def _ends_after_its_day(context: LoadContext, row: Row) -> bool:
    """Return whether an offer holds on its own day at least; else say so."""
    until = row["valid_until"]
    if until is None or until >= row["offered"]:
        return True
    context.problem(row, "valid_until", found=until.isoformat(), expected="a day on or after `offered`")
    return False


register(OffersTable())
