"""A cut as it is reported: where its marks lie, and what is wrong with it."""

import pytest

from reels.ledger.marks.content import CutError, placed_marks
from reels.ledger.marks.printed import ReelMarks
from takeoff.units.exact import to_ticks
from tests.reels.ledger.marks.drawn import FT, reel


def placed(marked, outer=None, inner=None, taped=None):
    marks = (None if each is None else to_ticks(each) for each in (outer, inner))
    return placed_marks("R1", marked, **dict(zip(("outer", "inner"), marks, strict=True)), taped=taped)


@pytest.mark.parametrize("marked", [reel(1250, 3740), reel(3740, 1250)], ids=["climbing", "falling"])
def test_marks_come_with_the_outer_one_first_in_whatever_order_they_were_read(marked):
    ends = sorted((to_ticks(1300), to_ticks(1400)), reverse=marked.outer > marked.inner)
    assert placed(marked, 1300, 1400) == placed(marked, 1400, 1300) == tuple(ends)


def test_a_taped_length_needs_no_marks():
    assert placed(reel(), taped=100 * FT) is None
    assert placed(reel(), taped=9999 * FT) is None, "marks may be off, so a tape is believed"
    plain = ReelMarks(length=100 * FT)
    assert placed(plain, taped=100 * FT) is None


@pytest.mark.parametrize(
    ("marked", "said", "code", "malformed", "column", "told"),
    [
        (reel(), {}, "no_length", True, "length", "needs its two marks or its taped length"),
        (reel(), {"outer": 1300}, "no_length", True, "inner_mark", "an outer and an inner mark, or neither"),
        (reel(), {"inner": 1300}, "no_length", True, "outer_mark", "an outer and an inner mark, or neither"),
        (reel(), {"outer": 1300, "inner": 3741}, "off_reel", False, "outer_mark", "Marks 1300 to 3741 cannot be on"),
        (ReelMarks(length=FT), {"outer": 1, "inner": 2}, "off_reel", False, "outer_mark", "no printed marks"),
        (ReelMarks(length=FT), {"taped": FT + 1}, "off_reel", False, "length", "longer than all of reel R1"),
    ],
)
def test_what_is_wrong_with_a_cut_is_named(marked, said, code, malformed, column, told):
    with pytest.raises(CutError, match=told) as refused:
        placed(marked, **said)
    assert (refused.value.code, refused.value.malformed, refused.value.column) == (code, malformed, column)


def test_a_mark_off_the_reel_is_told_which_marks_the_reel_has():
    with pytest.raises(CutError) as refused:
        placed(reel(3740, 1250), 1300, 1200)
    assert refused.value.expected == "reel R1 has marks from 3740 to 1250 ft"
    with pytest.raises(CutError) as refused:
        placed(ReelMarks(length=FT), 1, 2)
    assert refused.value.expected == "reel R1 has no marks, so only a taped length"
    with pytest.raises(CutError) as refused:
        placed(ReelMarks(length=FT), taped=FT + 1)
    assert (refused.value.found, refused.value.expected) == ("304.8001 mm", "at most 304.8 mm")
