"""What is to be ordered of each supplier, read from the reconciliation of a site."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from kits.reorders.workbook import write_workbooks
from kits.shortages.queries import reconcile
from takeoff.sites.models import Site


def workbook_of(site: Site, supplier_id: int) -> tuple[str, bytes] | None:
    """Return the name and content of the workbook for one supplier, 0 for none named; None when nothing is to order."""
    found = reconcile(site)
    lines = tuple(line for line in found.lines if (line.item.supplier_id or 0) == supplier_id)
    cables = tuple(one for one in found.cables if one.ware and (one.ware.supplier_id or 0) == supplier_id)
    with TemporaryDirectory() as folder:
        paths = write_workbooks(replace(found, lines=lines, cables=cables), site, Path(folder))
        return (paths[0].name, paths[0].read_bytes()) if paths else None
