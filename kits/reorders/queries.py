"""What is to be ordered of each supplier, read from the reconciliation of a site, and how orders stand."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from kits.orders.models import Order
from kits.orders.queries import asked_for
from kits.reorders.proposals import CABLE, ITEM, Asked, Proposed, proposals
from kits.reorders.workbook import write_workbooks
from kits.shortages.queries import reconcile
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks

NAME = re.compile(r"ORD-(\d{1,6})")


def workbook_of(site: Site, supplier_id: int) -> tuple[str, bytes] | None:
    """Return the name and content of the workbook for one supplier, 0 for none named; None when nothing is to order."""
    found = reconcile(site)
    lines = tuple(line for line in found.lines if (line.item.supplier_id or 0) == supplier_id)
    cables = tuple(one for one in found.cables if one.ware and (one.ware.supplier_id or 0) == supplier_id)
    with TemporaryDirectory() as folder:
        paths = write_workbooks(replace(found, lines=lines, cables=cables), site, Path(folder))
        return (paths[0].name, paths[0].read_bytes()) if paths else None


def propose(site: Site, wares: Collection[str], *, without: Order | None = None) -> list[Proposed]:
    """
    Return what to order now of some wares, told by "i" or "c" and their keys, less what drafts ask for.

    without : a draft that is left aside.
    """
    asked: dict[str, list[Asked]] = defaultdict(list)
    for line in asked_for(site):
        if without is not None and line.order_id == without.pk:
            continue
        ware = f"{ITEM}{line.item_id}" if line.item_id else f"{CABLE}{line.cable_id}"
        length = None if line.reel_length is None else to_ticks(line.reel_length)
        run = line.run.name if line.run else ""
        asked[ware].append(Asked(line.order.name, to_ticks(line.quantity), run, length))
    return list(proposals(reconcile(site), asked, set(wares), unit=site.unit))


def next_name(site: Site) -> str:
    """Return a name that no order of the site has yet."""
    names = Order.objects.of(site).filter(name__startswith="ORD-").values_list("name", flat=True)
    taken = [int(found[1]) for name in names if (found := NAME.fullmatch(name))]
    return f"ORD-{max(taken, default=0) + 1:02}"
