"""Money that a record names."""

from __future__ import annotations

from decimal import Decimal

from takeoff.records.record_kinds import Filing
from takeoff.records.terms.errors import MalformedError
from takeoff.sites.models import Site
from takeoff.units.money import minor_digits


def minor_or_wrong(filing: Filing, column: str, site: Site) -> int | None:
    """Return an amount of the site's money in whole minor units, None where none is said. Raises MalformedError."""
    amount: Decimal | None = filing[column]
    if amount is None:
        return None
    digits = minor_digits(site.currency)
    minor = amount.scaleb(digits)
    if minor != minor.to_integral_value():
        expected = f"an amount of {site.currency} with at most {digits} decimal places"
        raise MalformedError(f"Write {expected}.", column=column, found=str(amount), expected=expected)
    return int(minor)
