"""When something happened, by a device whose clock may be wrong."""

from datetime import UTC, datetime, timedelta

import pytest

from takeoff.records.terms.clocks import corrected, offset, offset_in_words

TEN = datetime(2026, 3, 2, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("behind", "told"),
    [
        (timedelta(0), timedelta(0)),
        (timedelta(seconds=4, milliseconds=999), timedelta(0)),
        (timedelta(seconds=5), timedelta(seconds=5)),
        (timedelta(minutes=3, milliseconds=600), timedelta(minutes=3, seconds=1)),
        (timedelta(seconds=-5), timedelta(seconds=-5)),
        (timedelta(hours=-2), timedelta(hours=-2)),
    ],
)
def test_a_clock_is_off_by_more_than_sending_takes_to_the_second(behind, told):
    assert offset(TEN - behind, TEN) == told


def test_a_clock_that_is_not_told_is_taken_as_right():
    assert offset(None, TEN) == timedelta(0)
    assert corrected(TEN - timedelta(hours=1), None, TEN) == TEN - timedelta(hours=1)


def test_what_happened_is_put_right_by_the_clock_and_never_after_it_was_received():
    slow, fast = TEN - timedelta(minutes=30), TEN + timedelta(minutes=30)
    assert corrected(TEN - timedelta(minutes=50), slow, TEN) == TEN - timedelta(minutes=20)
    assert corrected(TEN + timedelta(minutes=10), fast, TEN) == TEN - timedelta(minutes=20)
    assert corrected(TEN + timedelta(minutes=10), TEN, TEN) == TEN


@pytest.mark.parametrize(
    ("behind", "told"),
    [
        (timedelta(minutes=1, seconds=59), ""),
        (timedelta(minutes=2), "2 min slow"),
        (timedelta(minutes=-119), "119 min fast"),
        (timedelta(minutes=120), "2 h 0 min slow"),
        (timedelta(minutes=-150), "2 h 30 min fast"),
    ],
)
def test_a_person_is_told_from_two_minutes_on(behind, told):
    sentence = f"The clock of the phone was {told}; the time was put right." if told else ""
    assert offset_in_words(behind) == sentence
