"""Taking over what the finished stages of a site say of its use."""

from __future__ import annotations

from django.db import transaction

from kits.closing.errors import FiguresMovedError
from kits.closing.queries import items_left
from kits.shortages.reckon.usage import Prior
from takeoff.catalogue.models import UsagePrior
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks


@transaction.atomic
def take_over_prior(*, site: Site, usage: str, seen: str) -> UsagePrior:
    """
    Let the site believe of a class of use what its finished stages say; items with a belief of their own keep it.

    seen : `figures_of` what the planner saw. Raises FiguresMovedError where that is no longer what the stages say.
    """
    fitted = {one.usage: one.refit.prior for one in items_left(site, site.today()).priors}.get(usage)
    if fitted is None or figures_of(fitted) != seen:
        raise FiguresMovedError(usage)
    values = {
        "rate": from_ticks(to_ticks(fitted.rate)),
        "rate_worth": from_ticks(to_ticks(fitted.rate_worth)),
        "spread": from_ticks(to_ticks(fitted.spread)),
        "spread_worth": fitted.spread_worth,
    }
    row, _ = UsagePrior.objects.of(site).update_or_create(site=site, usage=usage, item=None, defaults=values)
    return row


def figures_of(prior: Prior) -> str:
    """Return a belief as text, for a form to say which figures were seen."""
    return f"{prior.rate} {prior.rate_worth} {prior.spread} {prior.spread_worth}"
