"""Writing shipments, their packages and packing lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db import transaction

from kits.shipments.models import Package, PackingLine, Shipment
from takeoff.sheets.matching import Matched, bulk_save
from takeoff.sites.models import Site


@transaction.atomic
def save_shipments(*, site: Site, new: Sequence[Shipment], changed: Sequence[Shipment]) -> None:
    """Create shipments, and write supplier, carrier and dates of changed ones."""
    fields = {"supplier", "carrier", "shipped", "expected"}
    bulk_save(Shipment.objects.of(site), new=new, changed=changed, fields=fields, keys=True)


@transaction.atomic
def make_packages(*, site: Site, wanted: Iterable[tuple[Shipment, str]]) -> dict[tuple[int, str], Package]:
    """Return the packages by shipment and name, each made when there is none."""
    asked = {(shipment.pk, name): shipment for shipment, name in wanted}
    rows = Package.objects.of(site).filter(shipment__in={shipment for shipment, _ in asked})
    known = {(package.shipment_id, package.name): package for package in rows}
    missing = [Package(shipment=asked[key], name=key[1]) for key in asked if key not in known]
    known |= {(package.shipment_id, package.name): package for package in Package.objects.bulk_create(missing)}
    return known


@transaction.atomic
def save_packing_lines(*, site: Site, matched: Matched[PackingLine]) -> None:
    """Write lines of packing lists that are new or changed."""
    rows = PackingLine.objects.of(site)
    bulk_save(rows, new=matched.new, changed=matched.changed, fields=matched.fields)
