"""A line in words."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from kits.shortages.reckon.causes import CAUSE_WORDS, CAUSE_WORDS_BELOW, FREE, NO_KIT, USUAL, USUAL_BELOW
from kits.shortages.reckon.lines import CAUSES, TooLate
from kits.shortages.told import words
from tests.kits.reorders.build import TODAY, short_line, ticks

DAY = timedelta(days=1)
LATE = TooLate("shipment", "S-1", 10_000, date(2026, 12, 15), date(2026, 12, 10), 5)
NONE = dict.fromkeys(CAUSES, 0)


def test_a_part_below_nothing_has_words_of_its_own():
    for name, told in CAUSE_WORDS_BELOW.items():
        assert words.part_in_words(name, -1) == told
        assert words.part_in_words(name, 0) == words.part_in_words(name, 1) == CAUSE_WORDS[name]
    assert words.part_in_words("expired", -1) == CAUSE_WORDS["expired"]
    assert words.part_in_words("reserve", 1) == CAUSE_WORDS["reserve"]
    assert words.part_in_words("reserve", 1, Fraction(9, 10)) == "spare (enough 9 times in 10)"


def test_where_no_kit_is_promised_or_no_stage_finished_nobody_is_blamed():
    line = short_line()
    assert words.cause_in_words(line, "kit_list", 1) == CAUSE_WORDS["kit_list"]
    assert words.cause_in_words(short_line(promised=0), "kit_list", 1) == NO_KIT
    assert words.cause_in_words(short_line(promised=0), "kit_list", 0) != NO_KIT
    assert words.cause_in_words(line, "use", 1) == CAUSE_WORDS["use"]
    assert words.cause_in_words(short_line(usage=None), "use", 1) == USUAL
    assert words.cause_in_words(short_line(usage=None), "use", -1) == USUAL_BELOW


def test_parts_come_largest_first_and_what_was_ordered_free_stands_apart():
    causes = NONE | {"kit_list": ticks(60), "expired": ticks("72.5"), "ordered_since": ticks(-9)}
    line = short_line(causes=causes, free=ticks(4), need_expected=ticks(84), need_covered=ticks(84), learned=0)
    assert [(name, told, size) for name, told, size in words.causes_largest_first(line)] == [
        ("expired", CAUSE_WORDS["expired"], ticks("72.5")),
        ("kit_list", CAUSE_WORDS["kit_list"], ticks(60)),
        ("ordered_since", FREE, ticks(-4)),
        ("ordered_since", CAUSE_WORDS["ordered_since"], ticks(-5)),
    ]
    assert words.causes_largest_first(line, ["kit_list"]) == (("kit_list", CAUSE_WORDS["kit_list"], ticks(60)),)
    more = short_line(causes=causes, free=ticks(12))
    assert ("ordered_since", FREE, ticks(-9)) in words.causes_largest_first(more), "no more than all of it"


def test_what_was_promised_and_not_shipped_is_owed_whatever_was_ordered_since():
    owed = NONE | {"not_shipped": ticks(2), "ordered_since": ticks(-1)}
    assert words.owed_in_words(short_line(causes=owed)).startswith("2 cartridges ")
    assert words.owed_in_words(short_line(causes=owed | {"ordered_since": 0})) == ""
    assert words.owed_in_words(short_line(causes=owed | {"not_shipped": 0})) == ""


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"days": 1}, "S-1 comes 1 day after 10 Dec 2026"),
        ({"days": None}, "S-1 has no day, and it is missing from 10 Dec 2026"),
        ({"days": None, "no_answer": True}, "S-1: no answer, sent on a day not known, and it is missing from"),
        ({"days": None, "no_answer": True, "sent": date(2026, 12, 1)}, "S-1: no answer since 1 Dec 2026, and it is"),
    ],
)
def test_a_late_delivery_says_when_it_comes_or_that_nobody_knows(more, told):
    given = {"kind": "order", "name": "S-1", "quantity": 1, "on": None, "since": date(2026, 12, 10)} | more
    assert words.late_in_words([TooLate(**given)]).startswith(told)


def test_what_comes_too_late_is_expedited_and_only_the_rest_ordered():
    assert words.advice_in_words(short_line()) == ""
    some = short_line(too_late=(LATE,), expedite=ticks(3))
    assert words.advice_in_words(some).startswith("3 cartridges of it on the way, only too late: S-1 comes")
    assert "Expedite it, or" in words.advice_in_words(some)
    both = short_line(too_late=(LATE, LATE), order=0)
    assert words.advice_in_words(both).startswith("All of it is on the way")
    assert "Expedite them, or" in words.advice_in_words(both)
    assert words.main_cause_in_words(both).startswith("all of it is on the way: S-1 comes 5 days")
    assert words.main_cause_in_words(some) == CAUSE_WORDS["kit_list"]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"order_by": TODAY}, "order now"),
        ({"order_by": TODAY + DAY}, "later"),
        ({"order_by": None}, "order now"),
        ({"order_by": None, "out_on": None}, "later"),
        ({"order": 0, "expedite": 1}, "expedite"),
        ({"order": 0}, "covered"),
    ],
)
def test_a_line_asks_for_one_act(given, told):
    assert words.act_in_words(short_line(**given), TODAY) == told


def test_a_day_to_order_that_has_passed_says_how_late_it_will_be():
    by, out = TODAY - DAY, TODAY + 9 * DAY
    line = short_line(order_by=by, out_on=out, comes_on=out + DAY)
    assert words.overdue_in_words(line, TODAY).endswith(", 1 day after it is missing.")
    assert words.overdue_in_words(short_line(order_by=by, out_on=out, comes_on=out + 2 * DAY), TODAY).endswith(
        ", 2 days after it is missing."
    )
    assert words.overdue_in_words(short_line(order_by=by, out_on=out, comes_on=out), TODAY).endswith(
        "in time, without the buffer."
    )
    assert words.overdue_in_words(short_line(order_by=TODAY, out_on=out, comes_on=out), TODAY) == ""
    assert words.overdue_in_words(short_line(order_by=None, out_on=out), TODAY) == ""
    unknown = words.overdue_in_words(short_line(item={"lead": None}, out_on=out), TODAY)
    assert unknown.startswith("Lead time not known")


def test_drafts_are_told_and_not_counted():
    assert words.drafts_in_words(short_line()) == ""
    told = words.drafts_in_words(short_line(drafts=(("PO-1", ticks(2)), ("PO-2", ticks("0.5")))))
    assert told == "In drafts, not sent and not counted: PO-1 2, PO-2 0.5."
