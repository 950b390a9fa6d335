"""
The dates that matter once a delivery is signed for. Pure; the carrier's own terms govern.

Concealed damage: 5 business days from delivery, NMFC item 300135-A (effective 2015-04-18; 15 days before). Claim:
a carrier may not set less than 9 months, 49 U.S.C. 14706(e); carriers commonly print 9 months from delivery. Both
limits are settings of the site. That a month too short for the day ends the limit on its last day is our convention.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from takeoff.units.days import add_business_days, add_months


@dataclass(frozen=True, slots=True)
class Deadlines:
    """The last days to report concealed damage to the carrier and to file a claim."""

    concealed: date
    claim: date


def deadlines(
    delivered: date, *, concealed_days: int = 5, claim_months: int = 9, holidays: Collection[date] = ()
) -> Deadlines:
    """
    Return the dates that follow from a delivery.

    concealed_days : business days, Saturdays, Sundays and `holidays` left out. claim_months : calendar months.
    """
    concealed = add_business_days(delivered, concealed_days, holidays)
    return Deadlines(concealed, add_months(delivered, claim_months))
