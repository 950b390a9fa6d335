"""The dates after a delivery; against published limits in tests/outside/test_receiving.py."""

from datetime import date

from kits.receiving.counting.dates import Deadlines, deadlines

MONDAY = date(2024, 3, 4)


def test_the_usual_limits_are_five_business_days_and_nine_months():
    assert deadlines(MONDAY) == Deadlines(concealed=date(2024, 3, 11), claim=date(2024, 12, 4))


def test_a_site_may_have_other_limits_and_holidays():
    found = deadlines(MONDAY, concealed_days=2, claim_months=1, holidays=[date(2024, 3, 5)])
    assert found == Deadlines(concealed=date(2024, 3, 7), claim=date(2024, 4, 4))


def test_the_earlier_of_two_notices_leads():
    assert [notice.whom for notice in deadlines(MONDAY).notices] == ["carrier"]
    found = deadlines(MONDAY, notice_days=3).notices
    assert [(notice.whom, notice.by) for notice in found] == [
        ("supplier", date(2024, 3, 7)),
        ("carrier", date(2024, 3, 11)),
    ]
    assert [notice.whom for notice in deadlines(MONDAY, notice_days=10).notices] == ["carrier", "supplier"]
