"""Days counted on: business days and calendar months. Pure: no Django."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Collection
from datetime import date
from typing import cast


def add_business_days(day: date, days: int, holidays: Collection[date] = ()) -> date:
    """
    Return the business day that is `days` after `day`; Saturdays, Sundays and `holidays` do not count.

    Zero days after any day is that day. Raises ValueError below zero days.

    >>> add_business_days(date(2024, 3, 8), 5)
    datetime.date(2024, 3, 15)
    """
    if days < 0:
        raise ValueError(f"days must be zero or above, got {days}")
    if not days:
        return day
    import numpy as np  # only for who counts such days: it is slow to load

    closed = np.array(sorted(holidays), dtype="datetime64[D]")
    # From a day that is no business day the first one after it is day 1.
    return cast(date, np.busday_offset(np.datetime64(day), days, roll="backward", holidays=closed).item())


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
