"""Days on which a site works, and lead times counted on them."""

from datetime import date

from kits.shortages.reckon.working_days import LeadTime, WorkingDays

FRIDAY, SATURDAY, MONDAY = date(2026, 12, 4), date(2026, 12, 5), date(2026, 12, 7)
CLOSED = WorkingDays(holidays=(FRIDAY,))


def test_the_last_working_day_is_no_weekend_and_no_holiday():
    assert WorkingDays().on_or_before(MONDAY) == MONDAY
    assert WorkingDays().on_or_before(SATURDAY) == FRIDAY
    assert CLOSED.on_or_before(SATURDAY) == date(2026, 12, 3)


def test_goods_come_after_their_lead_time():
    assert WorkingDays().after(FRIDAY, LeadTime(3)) == MONDAY
    assert WorkingDays().after(FRIDAY, LeadTime(1)) == SATURDAY, "calendar days do not wait for Monday"
    assert WorkingDays().after(FRIDAY, LeadTime(1, working=True)) == MONDAY
    assert WorkingDays().after(SATURDAY, LeadTime(1, working=True)) == date(2026, 12, 8), "counted from Monday"
    assert CLOSED.after(date(2026, 12, 3), LeadTime(1, working=True)) == MONDAY


def test_an_order_goes_out_on_a_working_day_a_lead_time_before():
    assert WorkingDays().before(MONDAY, LeadTime(2)) == FRIDAY
    assert WorkingDays().before(MONDAY, LeadTime(1, working=True)) == FRIDAY
    assert WorkingDays().before(SATURDAY, LeadTime(1, working=True)) == date(2026, 12, 3)
    assert CLOSED.before(MONDAY, LeadTime(0)) == MONDAY
