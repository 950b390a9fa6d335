"""Over, short and damaged, worked out from counts."""

import pytest

from kits.receiving.counting.report import Count, LineState, Match, Sort, line_report


def test_what_nobody_counted_is_neither_short_nor_zero():
    report = line_report(10, [])
    assert (report.state, report.short, report.to_count, report.has_exception) == (LineState.NOT_COUNTED, 0, 10, False)


def test_a_part_count_is_not_short_yet():
    report = line_report(10, [Count(Sort.GOOD, 4, partial=True)])
    assert (report.state, report.short, report.to_count) == (LineState.PART, 0, 6)


def test_a_part_count_of_all_that_is_listed_leaves_nothing_to_count():
    report = line_report(10, [Count(Sort.GOOD, 10, partial=True)])
    assert (report.state, report.to_count, report.over) == (LineState.PART, 0, 0)


def test_the_last_count_closes_the_line():
    report = line_report(10, [Count(Sort.GOOD, 4, partial=True), Count(Sort.GOOD, 5)])
    assert (report.state, report.short, report.to_count) == (LineState.COUNTED, 1, 0)


def test_damaged_and_refused_came_and_are_no_shortage():
    report = line_report(10, [Count(Sort.GOOD, 6), Count(Sort.DAMAGED, 3), Count(Sort.REFUSED, 1)])
    assert (report.good, report.damaged, report.refused, report.short, report.over) == (6, 3, 1, 0, 0)
    assert report.has_exception


def test_more_than_listed_is_over_even_while_the_line_is_open():
    assert line_report(10, [Count(Sort.GOOD, 12, partial=True)]).over == 2


def test_a_wrong_item_leaves_the_line_short_and_is_named():
    report = line_report(10, [Count(Sort.WRONG, 0, came="TAPE", came_quantity=10)])
    assert (report.short, report.wrong) == (10, (("TAPE", 10),))


def test_as_listed_and_not_opened_is_a_state_of_its_own_until_somebody_counts():
    unopened = Count(Sort.NOT_OPENED, 10)
    assert line_report(10, [unopened]).state is LineState.NOT_OPENED
    assert line_report(10, [unopened, Count(Sort.DAMAGED, 1)]).state is LineState.COUNTED


@pytest.mark.parametrize(("ordered", "listed", "counted", "found"), [(500, 480, 470, (-10, 20, 30))])
def test_three_way_match(ordered, listed, counted, found):
    """Common practice: over/short = counted − list, back-order = ordered − list, open = ordered − counted."""
    match = Match(ordered, listed, counted)
    assert (match.over_or_short, match.back_order, match.open) == found
