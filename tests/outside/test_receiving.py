"""The dates that matter after a delivery, held against published limits."""

from datetime import date

import pytest

from kits.receiving.counting.dates import answers_due, deadlines
from kits.shortages.reckon.working_days import LeadTime, WorkingDays
from takeoff.units.days import add_business_days, add_months
from tests.outside.values import values


def day(outside, name):
    return date.fromisoformat(outside.words[name])


@pytest.mark.parametrize("outside", values("RECV-01", "RECV-02"), ids=lambda outside: outside.id)
def test_concealed_damage_is_reported_within_five_business_days(outside):
    found = deadlines(day(outside, "delivered"), concealed_days=int(outside["business_days"]))
    assert found.concealed == deadlines(day(outside, "delivered")).concealed == date.fromisoformat(outside.expected)


@pytest.mark.parametrize("outside", values("RECV-03", "RECV-04"), ids=lambda outside: outside.id)
def test_a_claim_is_filed_within_nine_months(outside):
    found = deadlines(day(outside, "delivered"), claim_months=int(outside["months"]))
    assert found.claim == deadlines(day(outside, "delivered")).claim == date.fromisoformat(outside.expected)


@pytest.mark.parametrize(
    ("outside", "answer"),
    list(zip(values("RECV-05", "RECV-06"), ("acknowledge", "decide"), strict=True)),
    ids=lambda value: getattr(value, "id", value),
)
def test_a_carrier_answers_a_claim_after_so_many_days_of_the_calendar(outside, answer):
    filed = day(outside, "claim_received")
    answered = WorkingDays().after(filed, LeadTime(int(outside["days"])))
    assert getattr(answers_due(filed), answer) == answered == date.fromisoformat(outside.expected)


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
