"""The tables `suppliers`, `items`, `usage_priors` and `cables`; offers are in `offer_sheets.py`."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from takeoff.catalogue import offer_sheets  # noqa: F401  # registers its table
from takeoff.catalogue.models import Cable, Item, Supplier, UsagePrior, VoltageClass
from takeoff.database.locks import lock
from takeoff.sheets.cells.columns import Column, InMetres
from takeoff.sheets.cells.kinds import (
    Choice,
    Email,
    Money,
    Number,
    Reference,
    Text,
    Whole,
    YesNo,
    one_of,
    plain_word,
)
from takeoff.sheets.cells.measured import Length, Lengths, Percent, Size, Volume, WeightPerLength
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import by_name, register, register_lock, register_reference
from takeoff.sheets.saving import save_matched
from takeoff.sheets.table_kinds import DescriptionTable, Row

LEARNED = tuple(usage.value for usage in Item.Usage if usage is not Item.Usage.FIXED)
SUPPLIED = ("email", "lead_time_days", "lead_time_in", "notice_days", "takes_back")
FITTED_ON = ("section", "straight", "fitting", "cover", "seal plate")


class SuppliersTable(DescriptionTable):
    """Who the site orders from."""

    name = "suppliers"
    order = 20
    help = "Who the site orders from."
    columns = (
        Column("supplier", Text(120), "The supplier's name.", required=True, example="Bus works"),
        Column("email", Email(), "Where orders go.", default="", example="orders@example.com"),
        Column("lead_time_days", Whole(most=3650), "Days from order to delivery.", default_help="not known"),
        Column(
            "lead_time_in",
            Choice(tuple(Supplier.CountedIn.values)),
            "What its lead times are counted in; working days are Monday to Friday without the site's holidays.",
            default=Supplier.CountedIn.DAYS.value,
        ),
        Column(
            "notice_days",
            Whole(most=365),
            "Days from delivery to tell the supplier of hidden damage, by the supplier's terms.",
            default_help="not known",
        ),
        Column(
            "takes_back",
            Text(300),
            "What the supplier takes back, and on what terms.",
            default="",
            default_help="not known: ask the supplier",
            example="full packs within 90 days",
        ),
    )
    key = ("supplier",)
    names = {"supplier": "supplier"}

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change suppliers."""
        matched = match(
            context,
            rows,
            model=Supplier,
            existing=dict(context.lookup("supplier")),
            key=lambda row: row["supplier"],
            identity=lambda row: {"site": context.site, "name": row["supplier"]},
            values=lambda row: {name: row[name] for name in SUPPLIED},
        )
        save_matched(context, matched)


class ItemsTable(DescriptionTable):
    """What is stocked, counted and ordered; cable is no item."""

    name = "items"
    order = 30
    help = "What is stocked, counted and ordered. Cable is no item: it has its own table."
    columns = (
        Column("item", Text(60), "The item's code.", required=True, example="BLK-M2"),
        Column("description", Text(200), "What it is.", required=True, example="Support block, middle"),
        Column("unit", Text(20), "What it is counted in: each, ft, roll.", required=True, example="each"),
        Column("group", Text(60), "A heading that lists are sorted under.", default=""),
        Column("pack", Number(above=True), "Ordered in whole packs of this many.", default=Decimal(1)),
        Column("per_box", Number(above=True), "How many come in one box.", default_help="not boxed"),
        Column("min_order", Number(), "The least that can be ordered.", default=Decimal(0)),
        Column("supplier", Reference(to="supplier"), "Who it is ordered from.", default_help="none"),
        Column("supplier_part", Text(60), "The supplier's part number.", default=""),
        Column(
            "lead_time_days",
            Whole(most=3650),
            "Days from order to delivery, counted as the supplier's.",
            default_help="the supplier's lead time",
        ),
        Column("unit_cost", Money(), "Price of one unit.", default_help="not known"),
        Column("shelf_life_days", Whole(least=1, most=36500), "Days it keeps from when made.", default_help="keeps"),
        Column("grade", Text(120), "Material or grade.", default=""),
        Column("accept", Text(300), "Grades or items accepted in its place, separated by commas.", default=""),
        Column("refuse", Text(300), "Grades or items that must never take its place.", default=""),
        Column(
            "stock_length", Length(above_zero=True), "Length of the stick or roll it comes in.", default_help="none"
        ),
        Column(
            "contents",
            Volume(),
            "Volume of a cartridge or pillow.",
            default_help="none",
            example="10.1 fl oz",
            metric=InMetres(example="300 mL"),
        ),
        Column(
            "usage",
            Choice(tuple(Item.Usage.values)),
            "fixed: exactly its takeoff; learned from finished stages: counted (screws, small bolts), "
            "wiped (tape, wipes, cleaner), bead (sealant, grease).",
            default=Item.Usage.FIXED.value,
        ),
        Column(
            "for_run",
            YesNo(),
            "Whether each piece is made for a run (cut, drilled, marked) and of no use to another.",
            default=False,
            default_help="no",
        ),
        Column(
            "fitted",
            Text(120),
            f"What it comes fitted on: an item, or one of {', '.join(FITTED_ON)}.",
            default="",
            default_help="loose",
        ),
    )
    key = ("item",)
    names = {"item": "item"}

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change items."""
        existing = dict(context.lookup("item"))
        for row in rows:
            known = existing.get(row["item"])
            if known is not None and known.unit != row["unit"]:
                context.caution(row, "unit", f"was {known.unit}: quantities already in the books keep their numbers")
            if row["for_run"] and row["usage"] != Item.Usage.FIXED:
                expected = "fixed, where an item is made for a run: each run needs exactly its own"
                context.problem(row, "usage", expected=expected)
            if known is not None and known.for_run != row["for_run"]:
                context.caution(row, "for_run", "changes which stock serves which run: look at its lots")
            if known is not None and row["fitted"] and not known.fitted and row["fitted"] != known.fitted:
                context.caution(row, "fitted", "was loose: what runs need of it no longer counts")
        _check_fitted(context, rows, {*existing, *(row["item"] for row in rows)})
        matched = match(
            context,
            rows,
            model=Item,
            existing=existing,
            key=lambda row: row["item"],
            identity=lambda row: {"site": context.site, "code": row["item"]},
            values=_item_values,
            columns={"supplier_id": "supplier", "contents_unit": "contents"},
        )
        save_matched(context, matched)


def _check_fitted(context: LoadContext, rows: Sequence[Row], items: set[str]) -> None:
    """Refuse what an item is said to come fitted on where that is neither another item nor a part of a run."""
    parts = {plain_word(part): part for part in FITTED_ON}
    for row in rows:
        fitted = row["fitted"]
        if fitted and fitted not in items - {row["item"]}:
            row.values["fitted"] = parts.get(plain_word(fitted), fitted)
            if plain_word(fitted) not in parts:
                expected = f"another item, or {one_of(FITTED_ON, fitted)}; empty where it comes loose"
                context.problem(row, "fitted", expected=expected)


AS_THEY_ARE = (
    *("description", "unit", "group", "pack", "per_box", "min_order", "supplier_part", "lead_time_days", "unit_cost"),
    *("shelf_life_days", "grade", "stock_length", "usage", "for_run", "fitted"),
)


def _item_values(row: Row) -> dict[str, Any]:
    given = row.values
    values = {name: given[name] for name in AS_THEY_ARE}
    values["accept"] = _listed(given["accept"])
    values["refuse"] = _listed(given["refuse"])
    supplier, contents = given["supplier"], given["contents"]
    values["supplier_id"] = supplier.pk if supplier else None
    values["contents"] = contents.value if contents else None
    values["contents_unit"] = contents.unit if contents else ""
    return values


def _listed(text: str) -> str:
    """Return a list of words separated by a comma and a space each."""
    return ", ".join(word for part in text.split(",") if (word := part.strip())) if text else ""


class UsagePriorsTable(DescriptionTable):
    """What the site believes of use before any stage is finished."""

    name = "usage_priors"
    order = 35
    help = (
        "What is believed of use before any stage is finished, for a class or for one item; "
        "a class without a row keeps the values of docs/reconcile.md."
    )
    columns = (
        Column("rate", Number(above=True), "Use over plan: 1.2 is a fifth more.", required=True, example="1.2"),
        Column("rate_worth", Number(above=True), "How many stages the rate is worth as evidence.", required=True),
        Column(
            "spread",
            Percent(least=Decimal("0.0001")),
            "How far the use of one mean stage lies from the rate, as a standard deviation.",
            required=True,
            example="25%",
        ),
        Column("spread_worth", Whole(least=1), "How many stages the spread is worth as evidence.", required=True),
        Column(
            "usage", Choice(LEARNED), "The class; each row has a class or an item.", default="", default_help="none"
        ),
        Column("item", Reference(to="item"), "The item.", default_help="none"),
    )
    key = ("usage", "item")

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change priors."""
        rows = [row for row in rows if _is_of_class_or_item(context, row)]
        priors = UsagePrior.objects.of(context.site)
        matched = match(
            context,
            rows,
            model=UsagePrior,
            existing={(prior.usage, prior.item_id): prior for prior in priors},
            key=lambda row: (row["usage"], row["item"] and row["item"].pk),
            identity=lambda row: {"site": context.site, "usage": row["usage"], "item": row["item"]},
            values=lambda row: {name: row[name] for name in ("rate", "rate_worth", "spread", "spread_worth")},
        )
        save_matched(context, matched)


def _is_of_class_or_item(context: LoadContext, row: Row) -> bool:
    """Return whether a row is of a class or of an item whose use is learned; else say what is wrong with it."""
    wrong = len(context.problems)
    usage, item = row["usage"], row["item"]
    if usage and item is not None:
        context.problem(row, "item", found=item.code, expected="a class or an item in a row, not both")
    elif not usage and item is None:
        context.problem(row, "usage", expected=f"{one_of(LEARNED)}, or an item")
    elif item is not None and item.usage == Item.Usage.FIXED:
        context.problem(row, "item", found=item.code, expected=f"an item whose usage is {one_of(LEARNED)}")
    return len(context.problems) == wrong


class CablesTable(DescriptionTable):
    """The kinds of cable that runs are made of and reels hold."""

    name = "cables"
    order = 40
    help = "The kinds of cable that runs are made of and reels hold."
    columns = (
        Column("item", Text(60), "The cable's code.", required=True, example="C500"),
        Column(
            "size",
            Size(),
            "AWG, kcmil or mm².",
            required=True,
            example="500 kcmil",
            metric=InMetres(example="300 mm2"),
        ),
        Column(
            "material",
            Choice(tuple(Cable.Material.values), also=(("copper", "Cu"), ("aluminum", "Al"), ("aluminium", "Al"))),
            "The conductor.",
            required=True,
        ),
        Column("insulation", Text(60), "Type of insulation.", default="", example="XHHW-2"),
        Column(
            "voltage_class",
            Choice(tuple(VoltageClass.values)),
            "LV to 1000 V, MV above.",
            default=VoltageClass.LV.value,
        ),
        Column("shielded", YesNo(), "Whether it has a shield.", default=False),
        Column(
            "diameter",
            Length(needs_unit=True, above_zero=True),
            "Over the jacket.",
            default_help="not known: no bend excess, no seals around it",
            example="1.003 in",
            metric=InMetres(example="25.4 mm"),
        ),
        Column(
            "weight",
            WeightPerLength(),
            "Weight per length.",
            default_help="not known",
            example="1700 lb/kft",
            metric=InMetres(example="2420 kg/km"),
        ),
        Column(
            "buy_lengths", Lengths(), "The lengths it is sold in, separated by commas.", default=[], default_help="any"
        ),
        Column("supplier", Reference(to="supplier"), "Who it is ordered from.", default_help="none"),
        Column("supplier_part", Text(60), "The supplier's part number.", default=""),
        Column(
            "lead_time_days", Whole(most=3650), "Days from order to delivery.", default_help="the supplier's lead time"
        ),
        Column("unit_cost", Money(), "Price of a foot; on a site in metres, of a metre.", default_help="not known"),
        Column("min_order", Length(), "The least length that can be ordered.", default=Decimal(0), default_help="any"),
    )
    key = ("item",)
    names = {"cable": "item"}

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change kinds of cable."""
        matched = match(
            context,
            rows,
            model=Cable,
            existing=dict(context.lookup("cable")),
            key=lambda row: row["item"],
            identity=lambda row: {"site": context.site, "code": row["item"]},
            values=_cable_values,
            columns={"weight_unit": "weight", "supplier_id": "supplier"},
        )
        save_matched(context, matched)


def _cable_values(row: Row) -> dict[str, Any]:
    names = (
        *("size", "material", "insulation", "voltage_class", "shielded", "diameter", "buy_lengths"),
        *("supplier_part", "lead_time_days", "unit_cost", "min_order"),
    )
    values = {name: row[name] for name in names}
    values["supplier_id"] = row["supplier"].pk if row["supplier"] else None
    weight = row["weight"]
    values["weight"] = weight.value if weight else None
    values["weight_unit"] = weight.unit if weight else Cable.WeightUnit.POUNDS.value
    return values


register_reference("supplier", by_name(Supplier.objects.of))
register_reference("item", by_name(Item.objects.of, "code"))
register_reference("cable", by_name(Cable.objects.of, "code"))
register_lock("item", lambda site, codes: lock(Item.objects.of(site).filter(code__in=codes).only("pk")))
register(SuppliersTable())
register(ItemsTable())
register(UsagePriorsTable())
register(CablesTable())
