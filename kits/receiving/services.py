"""Receiving: counted quantities against packing lists."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction

from kits.receiving.acts import CountedDelivery, PackingLists, delivery_act
from kits.stock.models import Posting
from kits.stock.places import Places
from kits.stock.services import record_act
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class Received:
    """A posted delivery, and what a person should look at: refused grades, substitutes, what no list names."""

    posting: Posting
    cautions: tuple[str, ...]


@transaction.atomic
def receive(*, site: Site, delivery: CountedDelivery) -> Received:
    """
    Post what a shipment brought, as counted.

    Good goods go to the bin named, else to the box of the kit that the packing line is for, else to the store;
    damaged, wrong and refused ones to quarantine. Raises LedgerError for what cannot have been counted so.
    """
    packing = PackingLists.of(site, [delivery.shipment])
    posting = record_act(site, delivery_act(Places(site), packing, delivery))
    return Received(posting, tuple(packing.cautions.get(delivery.event_id, ())))
