"""The list of shortages."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kits.shortages.pages import ShortRow
from takeoff.people.tables import NUMBER, SiteTable
from takeoff.templatetags.shown import from_today, money, quantity, units, units_of
from takeoff.units.shown import day_month_year

MOST_RUNS = 4


class ShortageTable(SiteTable):
    """What will run out, by the day to order it. The price shows only to those who may see prices."""

    caption = "Shortages"
    many = True
    order_by_day = tables.Column(accessor="order_by", verbose_name="Order by", order_by="order_by", empty_values=())
    code = tables.Column(verbose_name="Item")
    short = tables.Column(attrs=NUMBER)
    short_on = tables.Column(verbose_name="Short on", default="no date")
    order = tables.Column(verbose_name="To order", attrs=NUMBER)
    expedite = tables.Column(attrs=NUMBER)
    supplier = tables.Column(empty_values=())
    cause = tables.Column(verbose_name="Mostly because", default="")
    runs = tables.Column(default="", verbose_name="For runs")
    cost = tables.Column(attrs=NUMBER, default="no price")

    class Meta:
        empty_text = "Nothing matches."

    def render_order_by_day(self, record: ShortRow) -> str | SafeString:
        """Say the day and how far off it is; a day gone by is marked by a word."""
        if record.order_by is None:
            unknown = record.line.out_on is not None and record.line.order
            return "order now, lead time not known" if unknown else record.act
        gone = record.order_by < record.as_of
        return format_html(
            '<span class="nowrap {}">{}</span> <span class="small">{}</span>',
            "bad-text" if gone else "",
            day_month_year(record.order_by),
            ("overdue, " if gone else "") + from_today(record.order_by, record.as_of),
        )

    def render_code(self, record: ShortRow) -> SafeString:
        """Link to what the shortage is made of."""
        item = record.line.item
        return format_html(
            '{} <span class="small">{}</span>', self.link("shortage", item.id, item.description or item.code), item.code
        )

    def render_short(self, record: ShortRow) -> str:
        """Return what is missing with its unit, rounded up."""
        return units_of(record.line.short, record.line.item.unit)

    def render_short_on(self, value: date) -> str:
        """Return the day."""
        return day_month_year(value)

    def render_order(self, value: Decimal, record: ShortRow) -> str | SafeString:
        """Return what to order, and in packs of how many."""
        item = record.line.item
        told = f"{quantity(value)}, packs of {units(item.pack)}" if item.in_packs and value else quantity(value)
        return f"{told}, spare only" if record.line.spare_only else told

    def render_expedite(self, value: Decimal) -> str:
        """Return what is to come sooner; nothing where nothing is."""
        return quantity(value) if value else ""

    def render_supplier(self, value: str) -> str:
        """Return the supplier, or that there is none."""
        return value or "none named"

    def render_runs(self, record: ShortRow) -> str:
        """Name the first few runs."""
        runs = record.line.runs
        more = f" and {len(runs) - MOST_RUNS} more" if len(runs) > MOST_RUNS else ""
        return ", ".join(runs[:MOST_RUNS]) + more

    def render_cost(self, value: int) -> str:
        """Return what the order costs."""
        return money(value, self.site)
