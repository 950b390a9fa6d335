"""Reorder workbooks: one .xlsx for each supplier that a purchaser can print, correct and send."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path
from typing import Protocol

from openpyxl import Workbook

from kits.reorders.order_sheet import OrderHeading, write_expedite_sheet, write_order_sheet, write_why_sheet
from kits.reorders.sheet_writer import A4, LETTER
from kits.shortages.reckon.lines import Reconciliation
from kits.shortages.told.by_supplier import OrderList, order_lists
from takeoff.sheets.files.export import text_cell


class Sender(Protocol):
    """What a list says of the site that sends it; `unit` is ft or m."""

    @property
    def name(self) -> str:
        """The site's name."""

    @property
    def unit(self) -> str:
        """The site's unit of length."""

    @property
    def currency(self) -> str:
        """Three letters (ISO 4217)."""

    @property
    def ship_to(self) -> str:
        """Where goods go."""

    @property
    def contact(self) -> str:
        """Whom to ask."""


def write_workbooks(reconciliation: Reconciliation, site: Sender, folder: Path) -> list[Path]:
    """
    Write what `reconciliation` says is to be ordered, one workbook for each supplier, into `folder`.

    The folder is made when it is missing; a workbook of the same supplier and day is replaced whole. Writes nothing
    to the database and records no order. Returns the paths, in the order of the suppliers' names.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths: list[Path] = []
    for order in order_lists(reconciliation):
        heading = OrderHeading(
            site=site.name,
            supplier=order.supplier,
            as_of=reconciliation.as_of,
            currency=site.currency,
            level=reconciliation.level,
            ship_to=site.ship_to,
            contact=site.contact,
            paper=LETTER if site.unit == "ft" else A4,
            unit=site.unit,
        )
        path = folder / _file_name(order, heading, taken={path.name for path in paths})
        unfinished = path.with_suffix(".part")
        reorder_workbook(order, heading).save(unfinished)
        unfinished.replace(path)
        paths.append(path)
    return paths


def reorder_workbook(order: OrderList, heading: OrderHeading) -> Workbook:
    """Return the workbook of one supplier's list, ready to be saved once."""
    workbook = Workbook(write_only=True)
    workbook.properties.creator = "Reelkeep"
    workbook.properties.title = text_cell(f"Reorder list {heading.supplier_name} {heading.as_of.isoformat()}")
    workbook.calculation.fullCalcOnLoad = True
    if order.lines or order.cables:
        write_order_sheet(workbook, heading, order)
    if order.late:
        write_expedite_sheet(workbook, heading, order.late)
    if order.lines or order.cables:
        write_why_sheet(workbook, heading, order.lines, order.cables)
    return workbook


def _file_name(order: OrderList, heading: OrderHeading, *, taken: set[str]) -> str:
    """Return a file name that every system takes, telling two suppliers with like names apart by their number."""
    plain = unicodedata.normalize("NFKD", order.supplier).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or ("supplier" if order.supplier else "no-supplier")
    day = heading.as_of.isoformat()
    name = f"reorder-{stem}-{day}.xlsx"
    return name if name not in taken else f"reorder-{stem}-{order.supplier_id}-{day}.xlsx"
