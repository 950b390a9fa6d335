"""What the store has open at the end of a day, in figures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from kits.issuing.leftovers import leftovers
from kits.issuing.queries import debts
from kits.receiving.pages import trucks
from kits.receiving.unopened import Unopened, unopened
from kits.stock.models import Balance, Lot
from takeoff.sites.models import GOOD_KINDS, Place, Site

SOON = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class StoreFigures:
    """
    How many trucks stand to be counted, items are on hold, lots expire soon or have, and debts are open.

    left : how many finished stages may have goods left over. unopened : the packages that nobody opened, by the last
    day to tell of hidden damage.
    """

    unopened: list[Unopened]
    to_count: int
    held: int
    expired: int
    expiring: int
    owed: int
    left: int


def store_figures(site: Site) -> StoreFigures:
    """Return what the store has open, in a number of queries that does not grow."""
    today = site.today()
    lying = Balance.objects.of(site).filter(quantity__gt=0)
    here = set(lying.filter(place__kind__in=GOOD_KINDS).exclude(lot="").values_list("item", "lot"))
    last_days = Lot.objects.of(site).filter(expires__lte=today + SOON).values_list("item", "code", "expires")
    days = [day for item, lot, day in last_days if day and (item, lot) in here]
    held = lying.filter(place__kind=Place.Kind.QUARANTINE).values("item").distinct().count()
    expired = sum(day < today for day in days)
    return StoreFigures(
        unopened(site),
        len(trucks(site).here),
        held,
        expired,
        len(days) - expired,
        len(debts(site)),
        len(leftovers(site)),
    )
