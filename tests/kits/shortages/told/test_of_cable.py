"""Buying cable, in words."""

from dataclasses import replace
from datetime import date, timedelta

from kits.shortages.reckon.lines import ReelsOnOrder
from kits.shortages.told.of_cable import by_day_in_words, on_order_in_words, reels_in_words, why_in_words
from tests.kits.reorders.build import FT, cable_line

CABLE = cable_line()


def test_reels_are_told_by_length_in_the_sites_unit():
    assert reels_in_words([], "ft") == ""
    assert reels_in_words([(500 * FT, 1)], "ft") == "1 × 500' 0\""
    three = [(500 * FT, 1), (250 * FT, 2), (100 * FT, 3)]
    assert reels_in_words(three, "ft") == "1 × 500' 0\", 2 × 250' 0\" and 3 × 100' 0\""
    assert reels_in_words([(500 * FT, 1)], "m") == "1 × 152.4 m"


def test_reels_on_order_say_their_order_and_day():
    reels = [ReelsOnOrder("PO-3", 500 * FT, 2, date(2026, 5, 4)), ReelsOnOrder("PO-4", 250 * FT, 1)]
    assert on_order_in_words(reels, "ft") == (
        "2 × 500' 0\" on PO-3, expected 4 May 2026 and 1 × 250' 0\" on PO-4, no day given"
    )


def test_the_day_to_order_is_told_or_why_there_is_none():
    day = CABLE.order_by
    assert by_day_in_words(CABLE, day) == "by 17 Apr 2026"
    assert by_day_in_words(CABLE, day + timedelta(days=1)) == "overdue since 17 Apr 2026"
    undated = replace(CABLE, order_by=None)
    assert by_day_in_words(undated, day) == "no day planned"
    assert by_day_in_words(replace(undated, ware=None), day) == "lead time not known"
    assert by_day_in_words(replace(undated, ware=replace(CABLE.ware, lead=None)), day) == "lead time not known"


def test_why_so_many_reels_can_be_followed_with_a_pencil():
    assert why_in_words(CABLE, "ft").split(". ") == [
        "No reel here or on the way gives all that is to be cut for CB-9; the cut plan buys 3 × 1\u202f000' 0\" and "
        "1 × 500' 0\", the least cable found of the lengths sold",
        "On order: 1 × 1\u202f000' 0\" on PO-3, expected 4 May 2026",
        "Least order 1\u202f500' 0\"",
        "Order 2 × 1\u202f000' 0\" and 1 × 500' 0\".",
    ]
    bare = replace(CABLE, on_order=(), runs=(), ware=replace(CABLE.ware, least=0, lead=None))
    assert why_in_words(bare, "ft").endswith(
        "to be cut; the cut plan buys 3 × 1\u202f000' 0\" and 1 × 500' 0\", the least cable found of the lengths sold. "
        "Order 2 × 1\u202f000' 0\" and 1 × 500' 0\". The lead time is not known: there is no day to order by."
    )
