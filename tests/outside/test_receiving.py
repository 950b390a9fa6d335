"""The dates that matter after a delivery, held against published limits."""

from datetime import date

import pytest

from kits.receiving.counting.dates import deadlines
from takeoff.units.days import add_business_days, add_months

# NMFC item 300135-A (Supplement 1 to NMF 100-AO, effective 2015-04-18): concealed damage is reported to the carrier
# within 5 business days of delivery. The days are counted off a calendar from that rule, no holidays.
CONCEALED = [
    pytest.param(date(2024, 3, 4), date(2024, 3, 11), id="Monday to the next Monday"),
    pytest.param(date(2024, 3, 8), date(2024, 3, 15), id="Friday to the next Friday"),
]

# 49 U.S.C. 14706(e): a carrier may not set less than 9 months to file a claim; carriers commonly print 9 months from
# delivery. That a month without the day ends on its last day is a convention of ours (common practice).
CLAIM = [
    pytest.param(date(2024, 3, 4), date(2024, 12, 4), id="same day nine months on"),
    pytest.param(date(2024, 5, 31), date(2025, 2, 28), id="February has no 31st"),
]


@pytest.mark.parametrize(("delivered", "last_day"), CONCEALED)
def test_concealed_damage_is_reported_within_five_business_days(delivered, last_day):
    assert deadlines(delivered).concealed == last_day


@pytest.mark.parametrize(("delivered", "last_day"), CLAIM)
def test_a_claim_is_filed_within_nine_months(delivered, last_day):
    assert deadlines(delivered).claim == last_day


def test_holidays_push_the_last_day_out():
    assert add_business_days(date(2024, 3, 4), 5, holidays={date(2024, 3, 6)}) == date(2024, 3, 12)


def test_goods_that_come_on_a_saturday_count_from_monday():
    assert add_business_days(date(2024, 3, 9), 5) == date(2024, 3, 15)


def test_no_days_after_a_saturday_is_that_saturday():
    assert add_business_days(date(2024, 3, 9), 0) == date(2024, 3, 9)


def test_months_clamp_in_a_leap_year_too():
    assert add_months(date(2023, 5, 30), 9) == date(2024, 2, 29)


@pytest.mark.parametrize("count", [add_business_days, add_months])
def test_a_limit_does_not_run_backwards(count):
    with pytest.raises(ValueError, match="zero or above, got -1"):
        count(date(2024, 3, 4), -1)
