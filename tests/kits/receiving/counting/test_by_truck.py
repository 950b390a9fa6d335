"""Which truck an exception belongs to."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from kits.receiving.counting.by_truck import Found, found_by_truck, truck_at
from kits.receiving.counting.report import Count, Sort, line_report

START = datetime(2026, 3, 2, 12, tzinfo=UTC)


def hour(number: int) -> datetime:
    return START + timedelta(hours=number)


def test_a_count_came_with_the_latest_truck_that_was_there():
    came = [hour(0), hour(10)]
    assert [truck_at(came, hour(at)) for at in (-1, 0, 9, 10, 11)] == [0, 0, 0, 1, 1]


def test_damage_stays_with_its_truck_and_what_is_missing_is_the_last_ones():
    counts = [
        (hour(1), Count(Sort.DAMAGED, 3, partial=True)),
        (hour(11), Count(Sort.GOOD, 4)),
        (hour(12), Count(Sort.WRONG, 0, came="NUT", came_quantity=2)),
    ]
    report = line_report(10, [count for _, count in counts])
    assert found_by_truck(report, counts, [hour(0), hour(10), hour(20)]) == {
        0: Found(damaged=3),
        1: Found(wrong=(("NUT", 2),)),
        2: Found(short=3),
    }


def test_what_is_as_listed_belongs_to_no_truck():
    counts = [(hour(1), Count(Sort.GOOD, 10))]
    assert found_by_truck(line_report(10, [counts[0][1]]), counts, [hour(0)]) == {}


def test_what_came_too_much_is_of_the_truck_of_the_last_count_and_is_no_loss():
    counts = [(hour(1), Count(Sort.GOOD, 8)), (hour(2), Count(Sort.GOOD, 4))]
    found = found_by_truck(line_report(10, [count for _, count in counts]), counts, [hour(0), hour(10)])
    assert found == {0: Found(over=2)}
    assert not found[0].claimable


COUNT = st.builds(
    Count, st.sampled_from([Sort.GOOD, Sort.DAMAGED, Sort.REFUSED]), st.integers(0, 9), partial=st.booleans()
)


@given(
    st.integers(1, 30),
    st.lists(st.tuples(st.integers(-5, 30).map(hour), COUNT), max_size=6),
    st.lists(st.integers(0, 25).map(hour), min_size=1, max_size=4).map(sorted),
)
def test_what_the_trucks_answer_for_is_what_the_report_says(listed, counts, came):
    report = line_report(listed, [count for _, count in counts])
    found = found_by_truck(report, counts, came).values()
    for sort in ("short", "over", "damaged", "refused"):
        assert sum(getattr(one, sort) for one in found) == getattr(report, sort)
