"""Lengths as hands find them: whole inches on a site in feet, centimetres in metres."""

from __future__ import annotations

from django.template import Library

from reels.ledger.queries import hands_of
from takeoff.sites.models import Site
from takeoff.units.shown import exactly

register = Library()


@register.filter
def hands_up(value: int | None, site: Site) -> str:
    """Return a needed length in ticks as it is taped, so that no cable is shorter."""
    return "" if value is None else exactly(hands_of(site).up(value), site.unit)


@register.filter
def hands_down(value: int | None, site: Site) -> str:
    """Return a length in ticks that must not promise too much."""
    if value is None:
        return ""
    step = hands_of(site).tape
    return exactly(value // step * step, site.unit)
