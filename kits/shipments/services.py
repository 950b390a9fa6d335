"""Making the packages of shipments."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction

from kits.shipments.models import Package, Shipment
from takeoff.sites.models import Site


@transaction.atomic
def make_packages(*, site: Site, wanted: Iterable[tuple[Shipment, str]]) -> dict[tuple[int, str], Package]:
    """Return the packages by shipment and name, each made when there is none."""
    asked = {(shipment.pk, name): shipment for shipment, name in wanted}
    rows = Package.objects.of(site).filter(shipment__in={shipment for shipment, _ in asked})
    known = {(package.shipment_id, package.name): package for package in rows}
    missing = [Package(shipment=asked[key], name=key[1]) for key in asked if key not in known]
    known |= {(package.shipment_id, package.name): package for package in Package.objects.bulk_create(missing)}
    return known
