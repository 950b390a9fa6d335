"""Keeping trucks at the gate, and making the shipments that come unannounced."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db import transaction

from kits.gate.models import Arrival, ArrivedPackage, TruckCall
from kits.shipments.models import Shipment
from takeoff.records.reported import standing
from takeoff.sites.models import Site


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


@transaction.atomic
def record_calls(site: Site, calls: Sequence[TruckCall]) -> None:
    """Keep what dispatchers say, or that some of it never was; the latest of a shipment that stands sets its day."""
    shipments = {row.pk: row for row in Shipment.objects.of(site).filter(pk__in=[call.shipment_id for call in calls])}
    said_before = TruckCall.objects.of(site).filter(shipment__in=shipments).order_by("at", "pk")
    listed = {key: shipment.expected for key, shipment in shipments.items()}
    listed |= {call.shipment_id: call.before for call in said_before}
    for call in calls:
        call.before = listed[call.shipment_id]
    TruckCall.objects.bulk_create(calls)
    for key, shipment in shipments.items():
        shipment.expected = listed[key]
    for call in standing(said_before.all()):
        shipments[call.shipment_id].expected = call.expected
    Shipment.objects.of(site).bulk_update(shipments.values(), ["expected"])
