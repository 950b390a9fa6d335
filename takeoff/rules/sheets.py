"""The table `rules`: the whole rule book of a site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from decimal import Decimal
from typing import Any

from takeoff.catalogue.models import Item
from takeoff.rules import queries
from takeoff.rules.engine import rows as word
from takeoff.rules.engine.book import NotPublishableError
from takeoff.rules.engine.book_checks import check_book
from takeoff.rules.engine.cells import LENGTHS, cell
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.services import Refreshed, publish, refresh_takeoffs
from takeoff.sheets.agreeing import told_change
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Reference, Text, Whole, YesNo
from takeoff.sheets.cells.measured import Amount, Length, Percent, Size
from takeoff.sheets.cells.problems import CellProblem
from takeoff.sheets.context import LoadContext
from takeoff.sheets.registry import register, register_follower
from takeoff.sheets.table_kinds import DescriptionTable, Row
from takeoff.units.exact import to_ticks
from takeoff.units.measures import Measure
from takeoff.units.shown import up

ANY = "any"


def _condition(name: str, what: str) -> Column:
    return Column(name, Text(100), f"Only {what}; several separated by commas.", default="", default_help=ANY)


def _band(name: str, what: str) -> Column:
    return Column(name, Size(), what, default="", default_help=ANY)


class RulesTable(DescriptionTable):
    """A rule book: publishing a new version when it differs."""

    name = "rules"
    order = 50
    help = (
        "How many of an item a run needs, and why. The table is the whole book: loading one that differs publishes a "
        "new version."
    )
    columns = (
        Column("rule", Text(80), "The rule's name.", required=True, example="middle blocks"),
        Column("item", Reference(to="item"), "The item that is needed.", required=True),
        Column("stage", Choice(word.STAGES), "The stage that needs it.", required=True),
        Column("counted_on", Choice(word.COUNTED_ON), "What the amount is per.", required=True),
        Column("measure", Choice(word.MEASURES), "How the quantity follows from the count.", required=True),
        Column("amount", Amount(), "How many per count; a length with its unit for the measure length.", required=True),
        Column("source", Text(300), "Where the rule comes from.", required=True, example="common practice"),
        Column("spacing", Length(needs_unit=True, above_zero=True), "Largest distance of posts.", default_help="none"),
        Column("end_offset", Length(needs_unit=True), "First and last post from the ends.", default_help="0"),
        Column("sides", Whole(least=1, most=20), "How many sides the posts stand on.", default_help="1"),
        Column("piece", Length(needs_unit=True, above_zero=True), "Length of a cut piece.", default_help="none"),
        Column("bead", Length(needs_unit=True, above_zero=True), "Diameter of a bead.", default_help="none"),
        Column("allowance", Percent(most=Decimal(10)), "On top of the quantity.", default=Decimal(0)),
        Column(
            "rounding",
            Choice(word.ROUNDINGS),
            "Rounded up for each run and stage, or once for the site.",
            default="run",
        ),
        Column("family", Text(60), "Rules of which one must match every run of a kind.", default=""),
        _condition("tiers", "runs with so many tiers (2, or 2-4)"),
        _condition("voltage_class", "runs of this voltage class (LV, MV)"),
        _condition("location", "runs that are indoor, outdoor or in a trench"),
        _condition("section_kind", "sections of this kind"),
        _condition("lie", "sections that lie so"),
        _condition("seal", "seals of this kind"),
        _condition("lug_holes", "ends with lugs of so many holes"),
        Column("fire_rated", YesNo(), "Only crossings that are fire rated, or only others.", default_help=ANY),
        _condition("crossing_kind", "crossings of a wall or a floor"),
        _band("ground_min", "Only ground cables of this size or larger."),
        _band("ground_max", "Only ground cables of this size or smaller."),
        _band("cable_min", "Only cables of this size or larger."),
        _band("cable_max", "Only cables of this size or smaller."),
    )
    key = ("rule",)

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Publish the book when it differs from the current one."""
        book = []
        for row in rows:
            rule = _rule_row(context, row)
            if rule is not None:
                book.append(rule)
        if len(book) < len(rows):
            return
        facts = queries.item_facts(context.site)
        refused = False
        for found in check_book(book, facts, unit=context.site.unit):
            column = {"name": "rule"}.get(found.field, found.field)
            row = rows[found.row]
            if found.refused:
                refused = True
                context.problem(row, column, found=found.found, expected=found.expected)
            else:
                context.caution(row, column, f"expected {found.expected}")
        self._count(context, book)
        if not refused and context.outcomes[self.name].touched:
            publish(site=context.site, rows=book, user=context.user)

    def _count(self, context: LoadContext, book: Sequence[RuleRow]) -> None:
        current = queries.current_book(context.site)
        earlier = {rule.name: rule for rule in queries.rows_of(current)} if current else {}
        for rule in book:
            old = earlier.pop(rule.name, None)
            if old == rule:
                context.count(self.name, "unchanged", rule.name)
            elif old is None:
                context.count(self.name, "new", rule.name)
            else:
                unit = context.site.unit
                changed = (
                    told_change(each.name, cell(old, each.name, unit), cell(rule, each.name, unit))
                    for each in fields(rule)
                    if getattr(old, each.name) != getattr(rule, each.name)
                )
                context.count(self.name, "changed", rule.name, tuple(changed))
        for name in earlier:
            context.count(self.name, "removed", name)


AS_THEY_ARE = (
    *("stage", "counted_on", "measure", "source", "sides", "rounding", "family", "tiers", "voltage_class", "location"),
    *("section_kind", "lie", "seal", "lug_holes", "fire_rated", "crossing_kind"),
    *("ground_min", "ground_max", "cable_min", "cable_max"),
)


def _rule_row(context: LoadContext, row: Row) -> RuleRow | None:
    """Return a row as the engine takes it; None, with a problem, when its amount is of the wrong kind."""
    amount: Decimal | Measure = row["amount"]
    if row["measure"] == "length":
        if not isinstance(amount, Measure):
            context.problem(row, "amount", expected="a length with its unit, such as 14 in: the measure is length")
            return None
        amount = amount.value
    elif isinstance(amount, Measure):
        context.problem(row, "amount", expected=f"a number without a unit: the measure is {row['measure']}")
        return None
    item: Item = row["item"]
    exact: dict[str, Any] = {name: None if row[name] is None else to_ticks(row[name]) for name in LENGTHS}
    return RuleRow(
        name=row["rule"],
        item=item.code,
        amount=to_ticks(amount),
        allowance=to_ticks(row["allowance"]),
        **exact,
        **{name: row[name] for name in AS_THEY_ARE},
    )


def _refresh(context: LoadContext) -> None:
    """Bring every takeoff of the site up to date with what was loaded."""
    try:
        found = refresh_takeoffs(site=context.site)
    except NotPublishableError as error:
        context.problems += [
            CellProblem("items", None, found.field, found.found, f"{found.expected} (the published rule {found.rule})")
            for found in error.problems
        ]
        return
    _tell_effects(context, found)


def _tell_effects(context: LoadContext, found: Refreshed) -> None:
    """Say which quantities and cut lengths a load moves, and ask where a need ends."""
    unit = context.site.unit
    for (run, item, stage), figures in sorted(found.lines.items()):
        before, after = (f"{figure.normalize():f}" for figure in figures)
        context.effects.moved.setdefault(run, []).append((item, stage, before, after))
    for (run, was, now), names in sorted(found.lengths.items()):
        before, after = (up(to_ticks(length), unit) if length else "none" for length in (was, now))
        context.effects.lengths.setdefault(run, []).append((", ".join(names), before, after))
    for item, quantity in sorted(found.ended.items()):
        context.doubt(item, f"{quantity.normalize():f} were needed until now, none after this load: is that meant?")


register(RulesTable())
register_follower(
    tables={"site", "items", "cables", "rules", "runs", "ends", "sections", "crossings", "conductors", "stages"},
    follow=_refresh,
)
