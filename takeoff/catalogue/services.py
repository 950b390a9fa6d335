"""Every write of suppliers, items and cables."""

from __future__ import annotations

from django.db import transaction

from takeoff.catalogue.models import Cable, Item, Supplier
from takeoff.sheets.records import Matched, bulk_save
from takeoff.sites.models import Site


@transaction.atomic
def save_suppliers(*, site: Site, matched: Matched[Supplier]) -> None:
    """Create and change suppliers of a site."""
    bulk_save(Supplier.objects.of(site), new=matched.new, changed=matched.changed, fields=matched.fields)


@transaction.atomic
def save_items(*, site: Site, matched: Matched[Item]) -> None:
    """Create and change items of a site."""
    bulk_save(Item.objects.of(site), new=matched.new, changed=matched.changed, fields=matched.fields)


@transaction.atomic
def save_cables(*, site: Site, matched: Matched[Cable]) -> None:
    """Create and change kinds of cable of a site."""
    bulk_save(Cable.objects.of(site), new=matched.new, changed=matched.changed, fields=matched.fields)
