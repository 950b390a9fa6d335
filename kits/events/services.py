"""Posting deliveries, returns, counts and hand-outs of a load together, in one order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from django.db import transaction

from kits.issuing.services import Request, act_of, places_wanted
from kits.receiving.acts import CountedDelivery, PackingLists, delivery_act, kits_to_box
from kits.stock.act import Act, Outcome
from kits.stock.places import DEFAULT_BIN, Places
from kits.stock.services import record_acts
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class Happened:
    """What became of one event, and what a person should look at."""

    outcome: Outcome
    cautions: tuple[str, ...] = ()


@transaction.atomic
def record_events(*, site: Site, events: Sequence[CountedDelivery | Request]) -> list[Happened]:
    """
    Post events in their order, in a number of queries that does not grow with them.

    Returns what became of each; when one was refused, nothing at all was written.
    """
    deliveries = [event for event in events if isinstance(event, CountedDelivery)]
    packing = PackingLists.of(site, [delivery.shipment for delivery in deliveries])
    places = Places(site)
    work, bins = places_wanted(event for event in events if not isinstance(event, CountedDelivery))
    bins += [counted.bin or DEFAULT_BIN for delivery in deliveries for counted in delivery.lines]
    places.load_all(work=work, bins=bins, boxes=kits_to_box(packing, deliveries))
    makers: list[Callable[[], Act]] = [
        partial(delivery_act, places, packing, event)
        if isinstance(event, CountedDelivery)
        else partial(act_of, places, event)
        for event in events
    ]
    outcomes = record_acts(site, makers)
    if any(outcome.error for outcome in outcomes):
        transaction.set_rollback(True)
    return [
        Happened(outcome, tuple(packing.cautions.get(event.event_id, ())))
        for event, outcome in zip(events, outcomes, strict=True)
    ]
