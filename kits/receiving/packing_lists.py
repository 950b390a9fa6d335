"""Packing lists, with what was counted of each line so far."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Sum

from kits.promises.models import Kit
from kits.receiving.counting.packing import ListedLine, answered
from kits.receiving.models import ReceiptLine
from kits.shipments.models import Package, PackingLine, Shipment
from takeoff.catalogue.models import Item
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks


@dataclass(slots=True)
class PackingLists:
    """
    The packing lists of shipments, with what was counted for each line so far; counts that are kept add to it.

    packages : of the shipments, by shipment and name.
    """

    lines: dict[int, list[ListedLine]]
    models: dict[int, PackingLine]
    packages: dict[tuple[int, str], Package]

    @classmethod
    def of(cls, site: Site, shipments: Iterable[Shipment]) -> PackingLists:
        """Read the packing lists of some shipments in three queries."""
        keys = {shipment.pk for shipment in shipments}
        rows = PackingLine.objects.of(site).filter(shipment__in=keys).select_related("kit__run", "kit__box")
        counts = ReceiptLine.objects.of(site).filter(
            packing_line__shipment__in=keys, receipt__posting__reversed_by__isnull=True
        )
        so_far = dict(counts.order_by().values_list("packing_line").annotate(total=Sum("covers")))
        packages = Package.objects.of(site).filter(shipment__in=keys)
        lists = cls({}, {}, {(package.shipment_id, package.name): package for package in packages})
        kits: dict[int, Kit] = {}  # one object for each, so that a new box is known to all of its lines
        for row in rows.order_by("pk"):
            if row.kit is not None:
                row.kit = kits.setdefault(row.kit.pk, row.kit)
            line = ListedLine(
                row.pk, row.item_id, row.package_id, to_ticks(row.quantity), to_ticks(so_far.get(row.pk) or 0)
            )
            lists.lines.setdefault(row.shipment_id, []).append(line)
            lists.models[row.pk] = row
        return lists

    def answered(self, shipment: Shipment, item: Item, package: Package | None) -> list[ListedLine]:
        """Return the lines that a count answers, none when the list does not name the item."""
        return answered(self.lines.get(shipment.pk, []), item.pk, package.pk if package else None)
