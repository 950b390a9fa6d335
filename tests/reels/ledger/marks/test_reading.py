from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from reels.ledger.marks.line import reel_books
from reels.ledger.marks.printed import ReelMarks
from reels.ledger.marks.reading import (
    Hands,
    length_taken,
    lost_to_reading,
    mark_to_cut_at,
    marks_per_length,
    unreliable_tail,
)
from takeoff.units.exact import to_ticks
from tests.reels.ledger.marks.drawn import FT, cut, laid, reel, reels_with_cuts

PER_101 = Fraction(1, 101)  # 1 ÷ (1 − 1/101) is 1.01 exactly: an allowance that can be worked by hand
INCH, CM = 254_000, 100_000
TENTHS, INCHES, CMS = Hands(INCH, "tenths"), Hands(INCH, "inches"), Hands(CM, "cm")


def test_the_mark_to_cut_at_adds_the_allowance_until_a_cut_is_taped():
    books = reel_books(reel(), [])
    assert mark_to_cut_at(reel(), books, 200 * FT, PER_101, TENTHS) == to_ticks(1452)
    taped = reel_books(reel(), [cut("a", 1250, 1450, "198")])
    # 200 ft at 0.99 ft a mark is 202.02 marks, read off at the next tenth: 1450 + 202.1
    assert mark_to_cut_at(reel(), taped, 200 * FT, PER_101, TENTHS) == to_ticks("1652.1")


def test_the_mark_to_cut_at_follows_earlier_cuts_of_the_list():
    books = reel_books(reel(3740, 1250), [])
    assert mark_to_cut_at(reel(3740, 1250), books, 100 * FT, PER_101, TENTHS, after=to_ticks(101)) == to_ticks(3538)


def test_no_mark_to_cut_at_beyond_the_core_or_without_marks():
    books = reel_books(reel(), [])
    assert mark_to_cut_at(reel(), books, 2490 * FT, PER_101, TENTHS) is None
    assert mark_to_cut_at(reel(), books, 2490 * FT, Fraction(0), TENTHS) == to_ticks(3740)
    plain = ReelMarks(length=FT)
    assert mark_to_cut_at(plain, reel_books(plain, []), FT, PER_101, TENTHS) is None


@given(reels_with_cuts(), st.integers(1, 500))
def test_cutting_at_the_mark_gives_at_least_the_need_by_the_reels_own_factor(drawn, feet):
    marked, cuts = laid(*drawn, climbing=True)
    books = reel_books(marked, cuts)
    mark = mark_to_cut_at(marked, books, feet * FT, PER_101, TENTHS)
    if mark is not None:
        taken = (marked.depth(mark) - books.outermost) * Fraction(3048, 10) * (books.factor or 1)
        assert taken >= feet * FT


@pytest.mark.parametrize(
    ("ends", "unit", "hands", "told"),
    [
        # 100 ft × 1.01 = 101 ft on from 1250.
        ((1250, 3740), "ft", INCHES, "1351 ft"),
        # 1250.5 + 101 = 1351.5, six inches on from 1351.
        (("1250.5", 3740), "ft", INCHES, "1351 ft + 6 in"),
        # 1250.45 + 101 = 1351.45 = 5.4 in: up to 6.
        (("1250.45", 3740), "ft", INCHES, "1351 ft + 6 in"),
        (("1250.96", 3740), "ft", INCHES, "1352 ft"),
        # Falling: 3740.5 − 101 = 3639.5, half a foot on from 3640, which is passed first.
        (("3740.5", 1250), "ft", INCHES, "3640 ft − 6 in"),
        # 3740.45 − 101 = 3639.45, 6.6 in on from 3640: up to 7.
        (("3740.45", 1250), "ft", INCHES, "3640 ft − 7 in"),
        (("1250.45", 3740), "ft", TENTHS, "1351.5 ft"),
        (("3740.45", 1250), "ft", TENTHS, "3639.4 ft"),
        # 100 ft = 30.48 m; × 1.01 = 30.7848 m.
        ((500, 900), "m", CMS, "530 m + 79 cm"),
        ((900, 500), "m", CMS, "870 m − 79 cm"),
        ((500, 900), "m", TENTHS, "530.79 m"),
        # 0.7848 m = 30.9 in: up to 31. A crew with an inch rule at a reel with metre marks.
        ((500, 900), "m", INCHES, "530 m + 31 in"),
        # 0.45 ft = 13.7 cm: up to 14. A crew with a metre rule at a reel with foot marks.
        (("1250.45", 3740), "ft", CMS, "1351 ft + 14 cm"),
        # 0.998 ft is less than a whole centimetre short of the next foot mark, which comes first.
        (("1250.998", 3740), "ft", CMS, "1352 ft"),
    ],
)
def test_a_mark_is_told_on_from_a_printed_one_toward_the_core(ends, unit, hands, told):
    outer, inner = map(to_ticks, ends)
    marked = ReelMarks(length=3000 * FT, outer=outer, inner=inner, unit=unit)
    mark = mark_to_cut_at(marked, reel_books(marked, []), 100 * FT, PER_101, hands)
    assert hands.told(mark, marked) == told


def test_a_length_is_cut_as_it_is_taped_up_to_a_whole_inch_or_centimetre():
    marked, none = reel(), Fraction(0)
    books = reel_books(marked, [])
    assert INCHES.up(100 * FT + 1) == 100 * FT + INCH
    assert CMS.up(30_480 * 10_000 + 1) == 3049 * CM
    # 100 ft 2 in and a hair is taped as 100 ft 3 in, 100.25 ft: the mark must not lie before it.
    mark = mark_to_cut_at(marked, books, 100 * FT + 2 * INCH + 1, none, TENTHS)
    assert TENTHS.told(mark, marked) == "1350.3 ft"
    plain = ReelMarks(length=500 * FT)
    assert length_taken(plain, reel_books(plain, []), 100 * FT + 1, none, INCHES) == 100 * FT + INCH


def test_what_is_lost_until_the_first_mark_that_can_be_found():
    def lost(outer, inner, hands):
        marked = reel(Decimal(outer), Decimal(inner))
        ticks = lost_to_reading(marked, reel_books(marked, []), Fraction(0), hands)
        return Decimal(ticks * 10_000 // FT) / 10_000

    # From 100.03 the next tenth is 100.1; falling from 100.03 it is 100.0.
    assert lost("100.03", 500, TENTHS) == Decimal("0.07")
    assert lost("500.03", 100, TENTHS) == Decimal("0.03")
    assert lost("500", 100, TENTHS) == 0
    # 100.5 ft is 100 + 6 in; 100.51 has 5.88 in to the next inch at 100.5833.
    assert lost("100.5", 500, INCHES) == 0
    assert lost("100.51", 500, INCHES) == Decimal("0.0733")
    # An inch is 833 1/3 ticks: its nearest tick is the inch.
    assert lost("100.0833", 500, INCHES) == 0
    assert lost("100.0834", 500, INCHES) == Decimal("0.0833")
    plain = ReelMarks(length=FT)
    assert lost_to_reading(plain, reel_books(plain, []), Fraction(0), INCHES) == 0


def test_what_is_lost_counts_from_where_the_cable_begins_and_as_marks_count():
    books = reel_books(reel(), [cut("a", 1250, "1350.03")])
    # 1350.03 to 1350.1 are 0.07 marks; 0.07 ft = 213 360 ticks, / 1.01 = 211 247.5: up.
    assert lost_to_reading(reel(), books, PER_101, TENTHS) == 211_248
    # By tape 200 marks were 198 ft: 0.07 × 0.99 ft = 211 226.4 ticks, whatever a mark may be off elsewhere.
    taped = reel_books(reel(), [cut("a", "1250.03", "1450.03", "198")])
    assert lost_to_reading(reel(), taped, PER_101, TENTHS) == 211_227


def test_the_tail_that_is_not_relied_on_is_what_is_held_and_what_marks_may_be_off():
    def tail(marked, held, *cuts):
        return unreliable_tail(marked, reel_books(marked, cuts), PER_101, to_ticks(Decimal(held) * Decimal("304.8")))

    # 10 + (2490 − 10) × 0.01 / 1.01 = 10 + 24.554: up to 34.56 ft.
    assert tail(reel(), 10) == 3456 * FT // 100
    assert tail(reel(), 10, cut("a", 1250, 1450, "198")) == 10 * FT, "the reel has its own factor"
    assert tail(ReelMarks(length=20 * FT), 10) == 10 * FT
    assert tail(reel(0, 5), 10) == tail(ReelMarks(length=5 * FT), 10) == 5 * FT, "no more than is left"
    assert tail(reel(0, Decimal("10.001")), 10) == 10_001 * FT // 1000, "nor once it is rounded up"


WAYS = [(unit, hands) for unit in ("ft", "m") for hands in (TENTHS, INCHES, CMS)]


@given(
    st.sampled_from(WAYS),
    st.booleans(),
    st.integers(0, 9_999),
    st.lists(st.integers(1, 60 * FT), min_size=1, max_size=12),
    st.sampled_from([Fraction(0), PER_101, Fraction(3, 100)]),
)
# Whole centimetres begin anew at each printed foot: from 100.49 they cross one more than the length alone says.
@example(("ft", CMS), True, 4_900, [88_700_000], Fraction(3, 100))
def test_cuts_at_the_marks_told_take_no_more_than_is_counted_and_no_less_than_is_needed(
    way, climbs, begins, needs, allowance
):
    """What a plan counts for its cuts is enough, whatever their order, where the reel begins and how marks are read."""
    unit, hands = way
    outer, inner = 100_0000 + begins, 3000_0000
    marked = ReelMarks(9_000_000_000, *((outer, inner) if climbs else (inner + begins, outer)), unit=unit)
    books = reel_books(marked, [])
    per_length = marks_per_length(marked, books, allowance)
    counted, at = lost_to_reading(marked, books, allowance, hands), 0
    for need in needs:
        mark = mark_to_cut_at(marked, books, need, allowance, hands, after=at)
        taken = marked.depth(mark) - at
        assert taken >= hands.up(need) * per_length
        counted += length_taken(marked, books, need, allowance, hands)
        at += taken
        assert at <= ceil(counted * per_length)


def test_a_mark_a_hair_before_a_printed_one_is_told_as_that_one():
    # Half an inch or less before the next printed mark there is no twelfth inch to tell.
    assert INCHES.told(to_ticks("3406.9999"), reel()) == "3407 ft"
