"""Which pages a phone keeps: sets to pull, trucks here or due, crate by crate, the gate, pick lists of stages due."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from django.urls import reverse
from django.utils.http import urlencode

from kits.gang_boxes.served import gang_boxes
from kits.issuing.pages import stages_to_serve
from kits.receiving.pages import trucks
from kits.shipments.models import Package
from takeoff.device.kept_pages import keep_on_phones
from takeoff.people.permissions import CUT, GATE, HAND_OUT, STORE, may
from takeoff.runs.models import Stage
from takeoff.sites.models import Site, StageName

AHEAD = timedelta(days=14)


def phone_pages(site: Site, roles: frozenset[str]) -> Iterator[str]:
    """Yield the pages that a member with these roles needs without signal, those of today first."""
    slug = site.slug
    yield reverse("today", args=[slug])
    yield reverse("receiving", args=[slug])
    yield from _to_cut(site, roles)
    gate = may(roles, GATE)
    if gate:
        yield reverse("new_truck", args=[slug])
    found = trucks(site)
    last = site.today() + AHEAD
    soon = [truck for truck in found.to_come if truck.shipment and (not truck.expected or truck.expected <= last)]
    shipments = [truck.shipment.pk for truck in (*found.here, *soon) if truck.shipment]
    packages: dict[int, list[int]] = {}
    rows = Package.objects.of(site).filter(shipment__in=shipments).order_by("name")
    for shipment, package in rows.values_list("shipment", "pk"):
        packages.setdefault(shipment, []).append(package)
    for shipment in shipments:
        yield reverse("receiving_shipment", args=[slug, shipment])
        if gate:
            yield reverse("gate", args=[slug, shipment])
        for package in packages.get(shipment, ()):
            yield reverse("receiving_package", args=[slug, shipment, package])
        if shipment not in packages:
            yield reverse("receiving_loose", args=[slug, shipment])
    for truck in (*found.here, *found.to_come):
        if truck.reels:
            yield f"{reverse('receiving_reels', args=[slug])}?{urlencode({'delivery': truck.reels[0].delivery})}"
    if may(roles, HAND_OUT):
        yield reverse("hand_out", args=[slug])
        yield reverse("gang_boxes", args=[slug])
        for box in gang_boxes(site):
            yield reverse("count_gang_box", args=[slug, box.pk])
    if may(roles, STORE):
        yield reverse("fill_gang_box", args=[slug])
    if may(roles, HAND_OUT):
        for row in stages_to_serve(site):
            yield reverse("pick_list", args=[slug, row.run.pk, row.stage])


def _to_cut(site: Site, roles: frozenset[str]) -> Iterator[str]:
    """Yield what the crew needs at the reels of the runs whose cables are planned soon, the earliest first."""
    if not may(roles, CUT):
        return
    yield reverse("pull", args=[site.slug])
    soon = Stage.objects.of(site).filter(stage=StageName.CABLES, done=None, planned__lte=site.today() + AHEAD)
    for run in soon.order_by("planned", "run__name").values_list("run_id", flat=True):
        for page in ("stand", "pull_bundle", "pull_run"):
            yield reverse(page, args=[site.slug, run])


keep_on_phones(phone_pages)
