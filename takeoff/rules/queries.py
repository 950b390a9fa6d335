"""Reads of rule books and takeoffs that services, pages and reports share."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from takeoff.catalogue.models import Item
from takeoff.rules.engine.book import Book, compile_book
from takeoff.rules.engine.rows import RuleItem, RuleRow
from takeoff.rules.engine.settle import Key
from takeoff.rules.models import Override, Rule, RuleBook, TakeoffLine
from takeoff.runs.models import Stage
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet
from takeoff.units.exact import to_ticks
from takeoff.units.measures import contents_mm3

# Columns of a rule that hold ticks in the pure row and a Decimal in the database.
EXACT = ("amount", "spacing", "end_offset", "piece", "bead", "allowance")
PLAIN = tuple(field.name for field in dataclasses.fields(RuleRow) if field.name not in {*EXACT, "item"})


def current_book(site: Site) -> RuleBook | None:
    """Return the site's latest published rule book."""
    return RuleBook.objects.of(site).order_by("-version").first()


def rows_of(book: RuleBook) -> tuple[RuleRow, ...]:
    """Return the rows of a published book as plain facts, in order."""
    return tuple(row_of(rule) for rule in book.rules.select_related("item").order_by("seq"))


def row_of(rule: Rule) -> RuleRow:
    """Return one rule as plain facts."""
    exact: dict[str, Any] = {
        name: None if (value := getattr(rule, name)) is None else to_ticks(value) for name in EXACT
    }
    return RuleRow(item=rule.item.code, **exact, **{name: getattr(rule, name) for name in PLAIN})


def digest_of(rows: Sequence[RuleRow]) -> str:
    """Return the hash of a book's rows that `RuleBook.content_hash` keeps."""
    return hashlib.sha256(repr([dataclasses.astuple(row) for row in rows]).encode()).hexdigest()


def altered_books(site: Site) -> list[RuleBook]:
    """Return the published books whose rows are no longer those that were published, in two queries."""
    rows: dict[int, list[RuleRow]] = {}
    for rule in Rule.objects.of(site).select_related("item").order_by("book", "seq"):
        rows.setdefault(rule.book_id, []).append(row_of(rule))
    books = RuleBook.objects.of(site).order_by("version")
    return [book for book in books if digest_of(rows.get(book.pk, [])) != book.content_hash]


def item_facts(site: Site) -> dict[str, RuleItem]:
    """Return what rules need to know of the site's items, by code."""
    return {
        item.code: RuleItem(
            code=item.code,
            unit=item.unit,
            stock_length=None if item.stock_length is None else to_ticks(item.stock_length),
            contents=None if item.contents is None else contents_mm3(item.contents, item.contents_unit),
            fitted=item.fitted,
        )
        for item in Item.objects.of(site)
    }


def compiled(rows: Sequence[RuleRow], items: Mapping[str, RuleItem]) -> Book:
    """Return a book made ready. Raises NotPublishableError when it no longer fits the site's items."""
    return compile_book(rows, items)


def takeoff_lines(site: Site) -> SiteQuerySet[TakeoffLine]:
    """Return every line of every run of a site, with its run and item."""
    return TakeoffLine.objects.of(site).select_related("takeoff__run", "item")


def planned_dates(site: Site) -> dict[tuple[str, str], date | None]:
    """Return the planned date of every stage that has a row, by run name and stage."""
    rows = Stage.objects.of(site).values_list("run__name", "stage", "planned")
    return {(run, stage): planned for run, stage, planned in rows}


def overrides(site: Site) -> dict[Key, int]:
    """Return the quantities that the drawing package sets, in ticks."""
    rows = Override.objects.of(site).values_list("run__name", "item__code", "stage", "quantity")
    return {Key(run, item, stage): to_ticks(quantity) for run, item, stage, quantity in rows}
