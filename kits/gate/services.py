"""Keeping trucks at the gate, and making the shipments that come unannounced."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db import transaction

from kits.gate.models import Arrival, ArrivedPackage
from kits.shipments.models import Shipment


@transaction.atomic
def make_shipments(shipments: Sequence[Shipment]) -> None:
    """Make shipments that were found at the gate."""
    Shipment.objects.bulk_create(shipments)


@transaction.atomic
def forget_shipments(shipments: Iterable[Shipment]) -> None:
    """Take shipments away that were never there; nothing has come of them."""
    for shipment in shipments:
        shipment.delete()


@transaction.atomic
def record_arrivals(arrivals: Sequence[Arrival], packages: Sequence[ArrivedPackage] = ()) -> None:
    """Keep trucks at the gate, or that some of them never were, and the packages that they brought."""
    Arrival.objects.bulk_create(arrivals)
    ArrivedPackage.objects.bulk_create(packages)
