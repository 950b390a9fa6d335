"""How the next length comes off a reel: by tape first, at a mark once the reel has a factor, alike within a set."""

from fractions import Fraction

import pytest

from reels.ledger.marks.line import reel_books
from reels.ledger.marks.next_cut import next_cut
from reels.ledger.marks.printed import CutMarks, ReelMarks
from reels.ledger.marks.reading import TENTHS, Hands

FT, INCH = 3_048_000, 254_000  # [ticks]
REEL = ReelMarks(length=1000 * FT, outer=12_500_000, inner=22_500_000)
NEED = 187 * FT + 6 * INCH
TAPED = CutMarks("a", outer=12_500_000, inner=14_389_000, taped=NEED)
BY_MARKS = CutMarks("a", outer=12_500_000, inner=14_394_000)


def told(*cuts, mine=(), reel=REEL):
    books = reel_books(reel, list(cuts), reading=FT // 2)
    return next_cut(reel, books, mine, NEED, Fraction(1, 100), Hands(INCH, TENTHS))


def test_the_first_cut_of_a_reel_is_by_tape_and_keeps_the_allowance_for_who_has_none():
    first = told()
    # 187.5 / 0.99 = 189.39, up to a tenth.
    assert (first.by_tape, first.begins, first.at) == (True, 12_500_000, 14_394_000)


def test_after_a_taped_cut_the_next_of_the_set_is_at_the_mark_of_the_reels_own_factor():
    # 187.5 ft by 188.9 marks: the next is 188.9 marks on.
    second = told(TAPED, mine=[TAPED])
    assert (second.by_tape, second.at) == (False, 16_278_000)
    assert second.left == told(TAPED).left


def test_the_first_of_another_set_is_by_tape_again():
    assert told(TAPED, mine=[]).by_tape


def test_a_set_that_nobody_taped_keeps_the_allowance_whatever_the_reel_has_learned_since():
    later = CutMarks("b", outer=14_394_000, inner=16_283_000, taped=NEED)
    kept = told(BY_MARKS, later, mine=[BY_MARKS])
    assert not kept.by_tape
    # From 1628.3 another 189.4, as the first of the set; the factor of the other cut would tell 188.9.
    assert kept.at == 18_177_000


@pytest.mark.parametrize("mine", [[], [CutMarks("a", taped=NEED)]])
def test_a_reel_without_marks_is_always_taped(mine):
    bare = told(*mine, mine=mine, reel=ReelMarks(length=1000 * FT))
    assert (bare.by_tape, bare.begins, bare.at) == (True, None, None)
