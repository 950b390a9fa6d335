"""Reads of the shortages pages: the reconciliation, narrowed as the purchaser asks, and one line of it told in full."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from kits.shortages.queries import reconcile
from kits.shortages.reckon.causes import answers_for
from kits.shortages.reckon.lines import CableLine, ShortLine, Walk
from kits.shortages.told.by_supplier import OrderList, order_lists
from kits.shortages.told.drawing import Bars, Steps, draw_bars, draw_steps
from kits.shortages.told.of_cable import on_order_in_words, reels_in_words
from kits.shortages.told.rounded import rounded_line
from kits.shortages.told.words import (
    ACTS,
    act_in_words,
    advice_in_words,
    causes_largest_first,
    main_cause_in_words,
    overdue_in_words,
)
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks


@dataclass(frozen=True, slots=True)
class ShortRow:
    """A line of the list: `order_by` and the rest as the list sorts them, `cost` in minor units when known."""

    line: ShortLine
    as_of: date

    @property
    def order_by(self) -> date | None:
        """The last day to order."""
        return self.line.order_by

    @property
    def act(self) -> str:
        """What the line asks for, in a word or two."""
        return act_in_words(self.line, self.as_of)

    @property
    def expedite(self) -> Decimal:
        """What is on the way and comes too late."""
        return from_ticks(self.line.expedite)

    @property
    def short_on(self) -> date | None:
        """The first day on which something is missing."""
        return self.line.short_on

    @property
    def code(self) -> str:
        """The item's code."""
        return self.line.item.code

    @property
    def short(self) -> Decimal:
        """What is missing, in the item's unit."""
        return from_ticks(self.line.short)

    @property
    def order(self) -> Decimal:
        """What to order, in whole packs."""
        return from_ticks(self.line.order)

    @property
    def supplier(self) -> str:
        """Who supplies the item."""
        return self.line.item.supplier

    @property
    def cause(self) -> str:
        """What adds most to what is short, in words."""
        return main_cause_in_words(self.line)

    @property
    def runs(self) -> str:
        """The runs with stages that are still to be served."""
        return ", ".join(self.line.runs)

    @property
    def cost(self) -> int | None:
        """What the order costs, in minor units of the currency; None when the price is not known."""
        price = self.line.item.unit_cost
        return None if price is None else round(self.order * price)


@dataclass(frozen=True, slots=True)
class ShortList:
    """The rows of the list, the day they are reckoned for, orders by supplier, cables to buy."""

    rows: tuple[ShortRow, ...]
    as_of: date
    orders: tuple[OrderList, ...]
    cables: tuple[CableRow, ...] = ()


@dataclass(frozen=True, slots=True)
class CableRow:
    """A cable that is to be ordered or on order, in words."""

    line: CableLine
    order: str
    on_order: str


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A part of a shortage: its name, what it says, who answers for it, and how much. [ticks]"""

    name: str
    words: str
    answers: str
    ticks: int


@dataclass(frozen=True, slots=True)
class ShortagePage:
    """
    One line with its pictures and the same told as tables.

    over_time : whose balance is drawn: of what is made for runs, the run that is short first.
    """

    line: ShortLine
    as_of: date
    over_time: ShortLine | Walk
    steps: Steps | None
    bars: Bars | None
    causes: tuple[CauseRow, ...]

    @property
    def walks(self) -> tuple[Walk, ...]:
        """The runs that lack something of what is made for them."""
        return tuple(walk for walk in self.line.walks if walk.short or walk.order or walk.expedite)

    @property
    def advice(self) -> str:
        """What to do before ordering, where something on the way comes too late."""
        return advice_in_words(self.line)

    @property
    def overdue(self) -> str:
        """That the day to order has passed and how late it comes, or why there is no such day."""
        return overdue_in_words(self.line, self.as_of)


def by_act(rows: Iterable[ShortRow]) -> list[tuple[str, list[ShortRow]]]:
    """Return rows by what they ask for, the most urgent act first; acts that no row asks for are left out."""
    found: dict[str, list[ShortRow]] = {act: [] for act in ACTS}
    for row in rows:
        found[row.act].append(row)
    return [(act, asking) for act, asking in found.items() if asking]


def short_list(site: Site, *, everything: bool = False) -> ShortList:
    """Return the short lines of a site by the day to order, or `everything`, and what to order by supplier."""
    found = reconcile(site)
    lines: Iterable[ShortLine] = found.short_lines
    if everything:
        lines = sorted(found.lines, key=lambda line: line.sort_key)
    cables = tuple(
        CableRow(one, reels_in_words(one.order or (), site.unit), on_order_in_words(one.on_order, site.unit))
        for one in found.cables_to_buy
    )
    rows = tuple(ShortRow(rounded_line(line), found.as_of) for line in lines)
    return ShortList(rows, found.as_of, order_lists(found), cables)


def shortage_page(site: Site, item_id: int) -> ShortagePage | None:
    """Return the line of an item with its pictures, or None when the site has no such item."""
    found = reconcile(site)
    exact = next((line for line in found.lines if line.item.id == item_id), None)
    if exact is None:
        return None
    line = rounded_line(exact)
    short = (walk for walk in line.walks if walk.short)
    first = min(short, key=lambda walk: (walk.short_on or date.max, walk.runs), default=line)
    steps = draw_steps(first, found.as_of)
    return ShortagePage(line, found.as_of, first, steps, draw_bars(line), cause_rows(line))


def cause_rows(line: ShortLine) -> tuple[CauseRow, ...]:
    """Return what a shortage is made of, the largest first; parts that are nothing left out."""
    return tuple(
        CauseRow(name, words, answers_for(line, name), ticks) for name, words, ticks in causes_largest_first(line)
    )
