"""What stages need of items, and what they were handed, read once for pages and for the door."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from django.db.models import Q

from kits.stock.models import Balance
from kits.stock.worth import worth_lying
from takeoff.rules.models import TakeoffLine
from takeoff.sites.models import WORK_KINDS, Site
from takeoff.units.exact import to_ticks
from takeoff.units.unit_words import needed

Need = tuple[int, str, int]  # run, stage, item


def needs_of(site: Site, runs: Collection[int]) -> Counter[Need]:
    """Return what the takeoffs of runs say of each stage and item, whole where it comes whole. [ticks]"""
    found: Counter[Need] = Counter()
    lines = TakeoffLine.objects.of(site).filter(takeoff__run__in=runs, quantity__gt=0)
    columns = ("takeoff__run", "stage", "item", "quantity", "item__unit")
    for run, stage, item, quantity, unit in lines.values_list(*columns):
        found[run, stage, item] += needed(to_ticks(quantity), unit)
    return found


def handed_out_of(site: Site, runs: Collection[int]) -> Counter[Need]:
    """Return what stages of runs were handed, in the items' own units, what they spoiled counted in. [ticks]"""
    found: Counter[Need] = Counter()
    worth = worth_lying(site)
    rows = Balance.objects.of(site).filter(~Q(quantity=0), place__kind__in=WORK_KINDS, place__run__in=runs)
    columns = ("place__run", "place__stage", "place", "item", "lot", "quantity")
    for run, stage, place, item, lot, quantity in rows.values_list(*columns):
        found[run, stage, item] += worth.get((place, item, lot), to_ticks(quantity))
    return found
