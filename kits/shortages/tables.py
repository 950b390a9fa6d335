"""The list of shortages, one block for each act."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from kits.shortages.pages import ShortRow
from kits.shortages.told.words import COVERED, EXPEDITE, ORDER_NOW
from takeoff.people.tables import NUMBER, SiteTable, cells
from takeoff.templatetags.shown import from_today, money, units, units_of
from takeoff.units.shown import day_month_year

MOST_RUNS = 4
ORDER_FORM = "draft-orders"  # the form on the page that drafts what is ticked


class ShortageTable(SiteTable):
    """
    What will run out and asks for one act, by the day to order it. Prices show only to those who may see them.

    act : which; the block of what is only to be expedited has nothing to order. may_order : whether lines are ticked.
    """

    many = True
    tick = tables.Column(verbose_name="Draft", orderable=False, empty_values=(), attrs=cells("bare"))
    order_by_day = tables.Column(accessor="order_by", verbose_name="Order by", order_by="order_by", empty_values=())
    code = tables.Column(verbose_name="Item", attrs=cells("named"))
    short = tables.Column(attrs=NUMBER)
    order = tables.Column(verbose_name="To order", attrs=cells("number", "figure"))
    expedite = tables.Column(attrs=NUMBER)
    cause = tables.Column(verbose_name="Mostly because", default="", attrs=cells("told"))
    runs = tables.Column(default="", verbose_name="For runs", attrs=cells("roomy"))

    class Meta:
        empty_text = "Nothing matches."

    def __init__(self, *args: Any, act: str, prices: bool, may_order: bool, **kwargs: Any) -> None:
        nothing_to_order = act in {EXPEDITE, COVERED}
        hidden = ["order_by_day", "order"] if act == EXPEDITE else []
        hidden += ["tick"] if nothing_to_order or not may_order else []
        super().__init__(*args, exclude=hidden, prefix=f"{act.replace(' ', '-')}-", **kwargs)
        self.caption, self.act, self.prices = f"Shortages: {act}", act, prices

    def render_tick(self, record: ShortRow) -> SafeString:
        """Return the box that chooses the item for an order; what is to be ordered now is ticked."""
        item = record.line.item
        return format_html(
            '<label class="tick"><input type="checkbox" form="{}" name="ware" value="i{}"{}>'
            '<span class="unseen">Draft an order of {}</span></label>',
            ORDER_FORM,
            item.id,
            mark_safe(" checked") if self.act == ORDER_NOW else "",
            item.description or item.code,
        )

    def render_order_by_day(self, record: ShortRow) -> str | SafeString:
        """Say the day and how far off it is; a day gone by is marked by a word."""
        if record.order_by is None:
            unknown = record.line.out_on is not None and record.line.order
            return "lead time not known" if unknown else "no date"
        gone = record.order_by < record.as_of
        return format_html(
            '<span class="nowrap {}">{}</span> <span class="small">{}</span>',
            "bad-text" if gone else "",
            day_month_year(record.order_by),
            ("overdue, " if gone else "") + from_today(record.order_by, record.as_of),
        )

    def render_code(self, record: ShortRow) -> SafeString:
        """Link to what the shortage is made of, and name who supplies it."""
        item = record.line.item
        return format_html(
            '{} <span class="small">{}, {}</span>',
            self.link("shortage", item.id, item.description or item.code),
            item.code,
            record.supplier or "no supplier named",
        )

    def render_short(self, record: ShortRow) -> SafeString:
        """Return what is missing with its unit, rounded up, and from which day."""
        return format_html(
            '{} <span class="small">{}</span>',
            units_of(record.line.short, record.line.item.unit),
            f"from {day_month_year(record.short_on)}" if record.short_on else "no date",
        )

    def render_order(self, record: ShortRow) -> str | SafeString:
        """Return what to order, in packs of how many, and what it costs."""
        item = record.line.item
        if not record.line.order:
            return "nothing"
        packs = f"packs of {units(item.pack)}" if item.in_packs else ""
        cost = ("no price" if record.cost is None else money(record.cost, self.site)) if self.prices else ""
        small = ", ".join(filter(None, (packs, cost)))
        return format_html('{} <span class="small">{}</span>', units_of(record.line.order, item.unit), small)

    def render_expedite(self, record: ShortRow) -> str:
        """Return what is to come sooner; nothing where nothing is."""
        return units_of(record.line.expedite, record.line.item.unit) if record.line.expedite else ""

    def render_runs(self, record: ShortRow) -> SafeString:
        """Name the first few runs, none broken at its hyphen."""
        runs = record.line.runs
        named = format_html_join(", ", '<span class="nowrap">{}</span>', ((run,) for run in runs[:MOST_RUNS]))
        return format_html("{} and {} more", named, len(runs) - MOST_RUNS) if len(runs) > MOST_RUNS else named
