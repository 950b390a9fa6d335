from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from reels.ledger.marks.line import ReelMarks, reel_books
from reels.ledger.marks.reading import mark_to_cut_at
from takeoff.units.exact import to_ticks
from tests.reels.ledger.marks.drawn import FT, ONE_PERCENT, cut, laid, reel, reels_with_cuts


def test_the_mark_to_cut_at_adds_the_allowance_until_a_cut_is_taped():
    books = reel_books(reel(), [])
    assert mark_to_cut_at(reel(), books, 200 * FT, ONE_PERCENT) == to_ticks(1452)
    taped = reel_books(reel(), [cut("a", 1250, 1450, "198")])
    # 200 ft at 0.99 ft a mark is 202.02 marks, read off at the next tenth: 1450 + 202.1
    assert mark_to_cut_at(reel(), taped, 200 * FT, ONE_PERCENT) == to_ticks("1652.1")


def test_the_mark_to_cut_at_follows_earlier_cuts_of_the_list():
    books = reel_books(reel(3740, 1250), [])
    assert mark_to_cut_at(reel(3740, 1250), books, 100 * FT, ONE_PERCENT, after=to_ticks(101)) == to_ticks(3538)


def test_no_mark_to_cut_at_beyond_the_core_or_without_marks():
    books = reel_books(reel(), [])
    assert mark_to_cut_at(reel(), books, 2490 * FT, ONE_PERCENT) is None
    assert mark_to_cut_at(reel(), books, 2490 * FT, Fraction(0)) == to_ticks(3740)
    plain = ReelMarks(length=FT)
    assert mark_to_cut_at(plain, reel_books(plain, []), FT, ONE_PERCENT) is None


@given(reels_with_cuts(), st.integers(1, 500))
def test_cutting_at_the_mark_gives_at_least_the_need_by_the_reels_own_factor(drawn, feet):
    marked, cuts = laid(*drawn, climbing=True)
    books = reel_books(marked, cuts)
    mark = mark_to_cut_at(marked, books, feet * FT, ONE_PERCENT)
    if mark is not None:
        taken = (marked.depth(mark) - books.outermost) * Fraction(3048, 10) * (books.factor or 1)
        assert taken >= feet * FT
