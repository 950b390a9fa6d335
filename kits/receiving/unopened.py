"""Packages that are here and that nobody has opened: hidden damage can be reported for a few days only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, Min, OuterRef, Q

from kits.gate.models import Arrival, ArrivedPackage
from kits.receiving.counting.dates import Notice
from kits.receiving.models import ReceiptLine
from kits.receiving.queries import dates_from, valid_counts
from kits.shipments.models import Package, PackingLine
from takeoff.records.reported import standing
from takeoff.sites.models import Site

LOOKED_BACK = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Unopened:
    """A package that nobody opened. last : whom to tell of hidden damage next, and by when; else what is over."""

    package: Package
    came: date
    last: Notice


def unopened(site: Site) -> list[Unopened]:
    """
    Return the packages that came in the last month and that nobody opened, by the day that ends first.

    One that the gate calls missing is not here. Where nobody took a truck in, its first count stands for it.
    """
    today = site.today()
    since = site.start_of(today - LOOKED_BACK)
    counts = valid_counts(site).order_by()
    first = dict(counts.values_list("receipt__shipment").annotate(at=Min("receipt__posting__at")).filter(at__gte=since))
    trucks = standing(Arrival.objects.of(site)).filter(at__gte=since)
    # One line that was looked at means that somebody opened the crate.
    opened = counts.exclude(condition=ReceiptLine.Condition.NOT_OPENED)
    shut = Package.objects.of(site).filter(
        Exists(PackingLine.objects.of(site).filter(package=OuterRef("pk"))),
        ~Exists(opened.filter(packing_line__package=OuterRef("pk"))),
        Q(shipment__in=first) | Q(shipment__in=trucks.values("shipment")),
    )
    packages = list(shut.select_related("shipment__supplier").order_by("shipment__name", "name"))
    if not packages:
        return []
    states: dict[int, tuple[str, datetime]] = {}
    seen = ArrivedPackage.objects.of(site).filter(package__in=packages, arrival__in=trucks).select_related("arrival")
    for row in seen.order_by("arrival__at", "pk"):
        states[row.package_id] = row.state, row.arrival.since
    found = []
    for package in packages:
        state, since_gate = states.get(package.pk, ("", None))
        came = since_gate or first.get(package.shipment_id)
        if came is None or state == ArrivedPackage.State.MISSING:
            continue
        day = site.local_date(came)
        notices = dates_from(site, package.shipment.supplier, day).notices
        last = next((notice for notice in notices if notice.by >= today), notices[-1])
        found.append(Unopened(package, day, last))
    return sorted(found, key=lambda one: (one.last.by, str(one.package)))
