"""Reorder workbooks: one .xlsx for each supplier that a purchaser can print, correct and send."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path

from openpyxl import Workbook

from kits.reorders.order_sheet import OrderHeading, write_expedite_sheet, write_order_sheet, write_why_sheet
from kits.shortages.reckon.lines import Reconciliation
from kits.shortages.told.by_supplier import OrderList, order_lists
from takeoff.sheets.files.sheet_writer import new_workbook
from takeoff.sites.models import Site


def write_workbooks(reconciliation: Reconciliation, site: Site, folder: Path) -> list[Path]:
    """
    Write what `reconciliation` says is to be ordered, one workbook for each supplier, into `folder`.

    The folder is made when it is missing; a workbook of the same supplier and day is replaced whole. Writes nothing
    to the database and records no order. Returns the paths, in the order of the suppliers' names.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths: list[Path] = []
    for order in order_lists(reconciliation):
        heading = OrderHeading(site, order.supplier, reconciliation.as_of, reconciliation.level)
        path = folder / _file_name(order, heading, taken={path.name for path in paths})
        unfinished = path.with_suffix(".part")
        reorder_workbook(order, heading).save(unfinished)
        unfinished.replace(path)
        paths.append(path)
    return paths


def reorder_workbook(order: OrderList, heading: OrderHeading) -> Workbook:
    """Return the workbook of one supplier's list, ready to be saved once."""
    workbook = new_workbook(f"Reorder list {heading.supplier_name} {heading.as_of.isoformat()}")
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
