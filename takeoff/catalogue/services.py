"""Every write of suppliers, items and cables."""

from __future__ import annotations

from typing import TypeVar

from django.db import models, transaction

from takeoff.catalogue.models import Cable, Item, Supplier, UsagePrior
from takeoff.sheets.matching import Matched, bulk_save
from takeoff.sites.models import Site

M = TypeVar("M", bound=models.Model)


@transaction.atomic
def save_suppliers(*, site: Site, matched: Matched[Supplier]) -> None:
    """Create and change suppliers of a site."""
    _save(Supplier.objects.of(site), matched)


@transaction.atomic
def save_items(*, site: Site, matched: Matched[Item]) -> None:
    """Create and change items of a site."""
    _save(Item.objects.of(site), matched)


@transaction.atomic
def save_usage_priors(*, site: Site, matched: Matched[UsagePrior]) -> None:
    """Create and change what a site believes of use before any stage is finished."""
    _save(UsagePrior.objects.of(site), matched)


@transaction.atomic
def save_cables(*, site: Site, matched: Matched[Cable]) -> None:
    """Create and change kinds of cable of a site."""
    _save(Cable.objects.of(site), matched)


def _save(rows: models.QuerySet[M], matched: Matched[M]) -> None:
    bulk_save(rows, new=matched.new, changed=matched.changed, fields=matched.fields, keys=True)
