from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from reels.ledger.marks.line import reel_books
from reels.ledger.marks.printed import ReelMarks
from reels.ledger.marks.reading import Hands
from reels.plans.cut_list import marks_to_cut_at
from takeoff.units.exact import from_ticks, to_ticks

FT = 3_048_000
TENTHS = Hands(tape=254_000, marks_as="tenths")


def marks(outer, inner):
    return ReelMarks(length=abs(outer - inner) * FT, outer=to_ticks(outer), inner=to_ticks(inner))


def test_each_length_begins_where_the_one_before_was_cut():
    reel = marks(1250, 3740)
    found = marks_to_cut_at(reel, reel_books(reel, []), [("A1", 200 * FT), ("A2", 200 * FT)], Fraction(1, 101), TENTHS)
    assert [(from_ticks(line.from_mark), from_ticks(line.to_mark)) for line in found] == [(1250, 1452), (1452, 1654)]
    assert [line.left for line in found] == [2290 * FT, 2090 * FT]


def test_falling_marks_count_down():
    reel = marks(500, 0)
    [line] = marks_to_cut_at(reel, reel_books(reel, []), [("A1", 100 * FT)], Fraction(0), TENTHS)
    assert (from_ticks(line.from_mark), from_ticks(line.to_mark)) == (500, 400)


def test_marks_past_the_core_are_left_to_the_tape():
    reel = marks(0, 300)
    found = marks_to_cut_at(reel, reel_books(reel, []), [("A1", 200 * FT), ("A2", 100 * FT)], Fraction(1, 101), TENTHS)
    assert found[0].to_mark == to_ticks(202)
    assert (found[1].from_mark, found[1].to_mark, found[1].left) == (None, None, 0)


def test_a_reel_without_marks_has_none_to_cut_at():
    reel = ReelMarks(length=500 * FT)
    [line] = marks_to_cut_at(reel, reel_books(reel, []), [("A1", 100 * FT)], Fraction(1, 101), TENTHS)
    assert (line.from_mark, line.to_mark, line.left) == (None, None, 400 * FT)


@given(st.lists(st.integers(1, 300), max_size=8), st.booleans())
def test_every_length_is_at_least_what_is_needed(feet, climbing):
    reel = marks(100, 2100) if climbing else marks(2100, 100)
    found = marks_to_cut_at(reel, reel_books(reel, []), list(enumerate(f * FT for f in feet)), Fraction(1, 101), TENTHS)
    for line in found:
        if line.to_mark is not None:
            assert reel.by_marks(abs(line.to_mark - line.from_mark)) >= line.length * Fraction(101, 100) - 1
