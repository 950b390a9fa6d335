"""Reads about trucks at the gate."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.db.models.functions import Coalesce

from kits.gate.models import Arrival, TruckCall
from kits.shipments.models import Shipment
from takeoff.records.reported import standing
from takeoff.sites.models import Site


def arrivals_of(site: Site, shipments: Iterable[Shipment] | None = None) -> dict[int, list[Arrival]]:
    """Return the trucks that brought some shipments, or all of a site, by shipment, the earliest first."""
    rows = standing(Arrival.objects.of(site)).select_related("recorded_by").order_by(Coalesce("not_before", "at"), "pk")
    if shipments is not None:
        rows = rows.filter(shipment__in=[shipment.pk for shipment in shipments])
    found: dict[int, list[Arrival]] = defaultdict(list)
    for arrival in rows:
        found[arrival.shipment_id].append(arrival)
    return found


def calls_of(site: Site, shipments: Iterable[Shipment]) -> dict[int, TruckCall]:
    """Return what the dispatcher said last of some shipments, by shipment."""
    rows = standing(TruckCall.objects.of(site)).filter(shipment__in=[shipment.pk for shipment in shipments])
    return {call.shipment_id: call for call in rows.order_by("at", "pk")}
