"""Lists of stock: items, places, what lies where, and moves."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables

from kits.stock.models import Move, Posting
from takeoff.catalogue.models import Item
from takeoff.people.tables import NUMBER, QuantityColumn, SiteTable, cells
from takeoff.sites.models import Place
from takeoff.templatetags.shown import quantity_of, stock_of
from takeoff.units.shown import day_month_year


class StockColumn(tables.Column):
    """What is there of an item with its unit, to the right: whole packages of it, never one more than there are."""

    def __init__(self, *classes: str, **kwargs: Any) -> None:
        super().__init__(attrs=cells("number", *classes), **kwargs)

    def render(self, value: Any, record: Item) -> str:
        """Return the quantity as people read it."""
        return stock_of(value, record.unit)


class StockTable(SiteTable):
    """Items with what is here of each."""

    caption = "Stock by item"
    many = True
    code = tables.Column(verbose_name="Item")
    description = tables.Column(attrs=cells("told"))
    usable = StockColumn("figure", default="0")
    expired = StockColumn(default="")
    held = StockColumn(verbose_name="On hold", default="")
    handed_out = StockColumn(verbose_name="Handed out", default="")
    group = tables.Column(default="", attrs=cells("roomy"))

    class Meta:
        empty_text = "No item here."

    def render_code(self, record: Item) -> str:
        """Link to the item's page."""
        return self.link("stock_item", record.pk, record.code)


class PlaceTable(SiteTable):
    """Places with how many items each holds."""

    caption = "Stock by place"
    name = tables.Column(verbose_name="Place")
    kind = tables.Column(attrs=cells("bare"))
    holds = tables.Column(verbose_name="Items there", attrs=NUMBER)
    walk = tables.Column(verbose_name="On the walk", default="", attrs=NUMBER)

    class Meta:
        empty_text = "No place here."

    def render_name(self, record: Place) -> str:
        """Link to the place's page."""
        return self.link("stock_place", record.pk, record.told)


class MoveTable(SiteTable):
    """Moves of one item."""

    caption = "Moves of the item"
    many = True
    at = tables.Column(accessor="posting__at", verbose_name="When")
    kind = tables.Column(accessor="posting__kind", verbose_name="What", attrs=cells("bare"))
    quantity = QuantityColumn("figure")
    source = tables.Column(verbose_name="From")
    target = tables.Column(verbose_name="To")
    lot = tables.Column(default="")
    by = tables.Column(accessor="posting__by", verbose_name="By", default="")
    document = tables.Column(accessor="posting__document", default="")

    class Meta:
        empty_text = "Nothing of this item has moved yet."

    def render_at(self, value: datetime, record: Move) -> str:
        """Link the moment, in the site's own time, to the act."""
        local = value.astimezone(self.site.tz)
        return self.link("stock_act", record.posting_id, f"{day_month_year(local)}, {local:%H:%M}")

    def render_quantity(self, value: Decimal, record: Any) -> str:
        """Return how many, with the unit that they are counted in."""
        return quantity_of(value, record.unit)

    def render_source(self, value: Place) -> str:
        """Return where it came from."""
        return value.told

    def render_target(self, value: Place) -> str:
        """Return where it went."""
        return value.told

    def render_kind(self, value: str, record: Move) -> str:
        """Return the kind of act, and what it reverses."""
        return f"{value}, reverses an earlier one" if record.posting.kind == Posting.Kind.REVERSAL else str(value)
