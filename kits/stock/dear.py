"""What is worth so much that the site wants it counted with more care."""

from __future__ import annotations

from decimal import Decimal

from takeoff.catalogue.models import Item
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks
from takeoff.units.money import minor_digits


def is_dear(item: Item, ticks: int, site: Site) -> bool:
    """Return whether so many are worth more than the site has set; not where nobody knows the price."""
    worth = Decimal((item.unit_cost or 0) * from_ticks(ticks)).scaleb(-minor_digits(site.currency))
    return worth > site.count_blind_above
