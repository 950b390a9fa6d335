"""
The dates that matter once a delivery is signed for. Pure; the carrier's own terms govern.

Concealed damage: 5 business days from delivery, NMFC item 300135-A (effective 2015-04-18; 15 days before). Claim:
a carrier may not set less than 9 months, 49 U.S.C. 14706(e); carriers commonly print 9 months from delivery. Both
limits are settings of the site. That a month too short for the day ends the limit on its last day is our convention.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Container
from dataclasses import dataclass
from datetime import date, timedelta

SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Deadlines:
    """The last days to report concealed damage to the carrier and to file a claim."""

    concealed: date
    claim: date


def deadlines(delivered: date, *, concealed_days: int = 5, claim_months: int = 9) -> Deadlines:
    """Return the dates that follow from a delivery. concealed_days : business days. claim_months : calendar months."""
    return Deadlines(add_business_days(delivered, concealed_days), add_months(delivered, claim_months))


def add_business_days(day: date, days: int, holidays: Container[date] = ()) -> date:
    """
    Return the business day that is `days` after `day`; Saturdays, Sundays and `holidays` do not count.

    Raises ValueError below zero days.

    >>> add_business_days(date(2024, 3, 8), 5)
    datetime.date(2024, 3, 15)
    """
    if days < 0:
        raise ValueError(f"days must be zero or above, got {days}")
    while days:
        day += timedelta(days=1)
        if day.weekday() < SATURDAY and day not in holidays:
            days -= 1
    return day


def add_months(day: date, months: int) -> date:
    """
    Return the same day of the month `months` later, or that month's last day when it has no such day.

    Raises ValueError below zero months.

    >>> add_months(date(2024, 5, 31), 9)
    datetime.date(2025, 2, 28)
    """
    if months < 0:
        raise ValueError(f"months must be zero or above, got {months}")
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
