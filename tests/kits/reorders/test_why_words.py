from datetime import date
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from kits.reorders.why_words import arithmetic_in_words, cause_split, causes_in_words
from kits.shortages.reckon.lines import CAUSES, TooLate
from kits.shortages.told.by_supplier import order_lists
from takeoff.units.shown import number
from tests.kits.reorders.build import TODAY, reconciliation, short_line, ticks

LEVEL = Fraction(95, 100)


def test_each_supplier_gets_one_list_and_items_without_a_supplier_come_last():
    lines = [
        short_line(item={"code": "a", "supplier_id": None, "supplier": ""}),
        short_line(item={"code": "b", "supplier_id": 2, "supplier": "Zinc works"}),
        short_line(item={"code": "c", "supplier_id": 1, "supplier": "Bolts"}),
        short_line(item={"code": "d", "supplier_id": 2, "supplier": "Zinc works"}),
    ]
    lists = order_lists(reconciliation(*lines))
    assert [(order.supplier, [line.item.code for line in order.lines]) for order in lists] == [
        ("Bolts", ["c"]),
        ("Zinc works", ["b", "d"]),
        ("", ["a"]),
    ]


def test_two_suppliers_of_one_name_stay_two():
    lines = [
        short_line(item={"code": code, "supplier_id": key, "supplier": "Bolts"}) for code, key in (("a", 2), ("b", 1))
    ]
    assert [order.supplier_id for order in order_lists(reconciliation(*lines))] == [1, 2]


def test_an_item_that_is_not_short_is_on_no_list():
    assert order_lists(reconciliation(short_line(short=0, order=0))) == ()


def test_a_list_is_in_the_order_in_which_things_must_be_ordered():
    lines = [
        short_line(item={"code": "undated"}, short_on=None, order_by=None, out_on=None),
        short_line(item={"code": "later"}, order_by=date(2026, 5, 1)),
        short_line(item={"code": "first"}, order_by=date(2026, 2, 1)),
    ]
    [order] = order_lists(reconciliation(*lines))
    assert [line.item.code for line in order.lines] == ["first", "later", "undated"]


@given(st.lists(st.integers(-(10**9), 10**9), min_size=len(CAUSES), max_size=len(CAUSES)))
def test_the_cause_split_adds_up_to_what_the_causes_add_up_to(amounts):
    line = short_line(causes=dict(zip(CAUSES, amounts, strict=True)))
    parts = cause_split(line)
    assert sum(quantity for _, quantity in parts) == sum(amounts)
    assert all(quantity for _, quantity in parts)


def test_causes_are_told_largest_first_and_what_takes_away_last():
    line = short_line(
        causes={**dict.fromkeys(CAUSES, 0), "lost": ticks(-3), "kit_list": ticks(60), "expired": ticks("12.5")}
    )
    assert causes_in_words(line) == "60 not on the kit lists\n12.5 expired in store\n−3 found at store counts"


def test_the_arithmetic_can_be_followed_with_a_pencil():
    assert arithmetic_in_words(short_line(), level=LEVEL, as_of=TODAY) == (
        "Open stages need 84 by the drawings; 13 usable here and 0 inbound: gap 84 − 13 − 0 = 71. "
        "Use is taken as 1.25 of plan, with 2 finished stages: 6 more. 5 spare: enough 19 times in 20. "
        "Short 82; in packs of 12, least order 24: order 84."
    )


def test_the_arithmetic_says_when_the_day_to_order_is_past():
    days = {"order_by": date(2026, 2, 20), "out_on": date(2026, 3, 9), "comes_on": date(2026, 3, 16)}
    line = short_line(**days, timing=ticks(4), learned=0, usage=None)
    words = arithmetic_in_words(line, level=LEVEL, as_of=TODAY)
    assert "Deliveries after the need, or lots that expire before it, add 4." in words
    assert words.endswith(
        "It was to be ordered by 20 Feb 2026. Ordered today it comes 16 Mar 2026, 7 days after it is missing."
    )


def test_a_lead_time_that_is_not_known_and_drafts_are_said():
    line = short_line(item={"lead": None}, out_on=date(2026, 3, 9), order_by=None, drafts=(("D-1", ticks(12)),))
    words = arithmetic_in_words(line, level=LEVEL, as_of=TODAY)
    assert words.endswith(
        "Lead time not known, so there is no day to order by; missing from 9 Mar 2026. "
        "In drafts, not sent and not counted: D-1 12."
    )


def test_what_is_on_the_way_is_said_before_any_quantity_to_order():
    late = (
        TooLate("shipment", "SH-1", 5, date(2026, 4, 6), date(2026, 4, 1), 5),
        TooLate("order", "ORD-2", 5, None, date(2026, 4, 1), None),
    )
    words = arithmetic_in_words(short_line(too_late=late, order=0), level=LEVEL, as_of=TODAY)
    assert words.startswith(
        "All of it is on the way, only too late: SH-1 comes 5 days after 1 Apr 2026; ORD-2 has no day, and it is "
        "missing from 1 Apr 2026. Expedite them, or move the work; ordering again makes it too many. Open stages need"
    )


def test_less_use_than_planned_is_told_apart_from_the_spare():
    line = short_line(need_expected=ticks(80))
    words = arithmetic_in_words(line, level=LEVEL, as_of=TODAY)
    assert "1.25 of plan, with 2 finished stages: 4 less. 15 spare: enough 19 times in 20." in words


def test_numbers_are_written_as_people_write_them():
    assert [number(ticks(value)) for value in ("0", "12", "12.5", "1234567.0625", "-0.5")] == [
        "0",
        "12",
        "12.5",
        "1\u202f234\u202f567.0625",
        "−0.5",
    ]
