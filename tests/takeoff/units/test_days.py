"""Business days and months; against published limits in tests/outside/test_receiving.py."""

from datetime import date

import pytest

from takeoff.units.days import add_business_days, add_months

FRIDAY = date(2024, 3, 8)


def test_business_days_leave_out_weekends_and_holidays():
    assert add_business_days(FRIDAY, 0) == FRIDAY
    assert add_business_days(FRIDAY, 1) == date(2024, 3, 11)
    assert add_business_days(date(2024, 3, 9), 1) == date(2024, 3, 11), "from a Saturday Monday is day 1"
    assert add_business_days(FRIDAY, 1, {date(2024, 3, 11)}) == date(2024, 3, 12)


def test_months_keep_the_day_or_end_with_the_month():
    assert add_months(FRIDAY, 0) == FRIDAY
    assert add_months(date(2024, 12, 31), 1) == date(2025, 1, 31)
    assert add_months(date(2024, 1, 31), 1) == date(2024, 2, 29)
    assert add_months(date(2024, 5, 31), 9) == date(2025, 2, 28)
    assert add_months(date(2024, 5, 15), 24) == date(2026, 5, 15)


@pytest.mark.parametrize("count", [add_business_days, add_months])
def test_no_limit_runs_backwards(count):
    with pytest.raises(ValueError, match="must be zero or above, got -1"):
        count(FRIDAY, -1)
