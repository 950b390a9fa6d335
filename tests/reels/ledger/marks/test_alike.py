import pytest

from reels.ledger.marks.alike import SetCut, compare_set
from tests.reels.ledger.marks.drawn import ONE_PERCENT


@pytest.mark.parametrize(
    ("cuts", "said"),
    [
        ([SetCut("A1", "R1", taped=100), SetCut("A2", "R2", taped=104)], "equal by tape"),
        ([SetCut("A1", "R1", taped=100), SetCut("A2", "R2", taped=106)], "not equal by tape"),
        ([SetCut("A1", "R1", by_marks=100), SetCut("A2", "R1", by_marks=105)], "equal by one reel"),
        ([SetCut("A1", "R1", by_marks=100), SetCut("A2", "R2", by_marks=100)], "cannot be verified"),
        ([SetCut("A1", "R1", taped=100), SetCut("A2", "R2", by_marks=100)], "cannot be verified"),
        ([SetCut("A1", "R1", taped=120, by_marks=99), SetCut("A2", "R1", by_marks=100)], "equal by one reel"),
        ([SetCut("A1", "R1", by_marks=100), SetCut("A2", "R1")], "cannot be verified"),
        ([], "cannot be verified"),
    ],
)
def test_a_set_is_compared_by_tape_or_within_one_reel(cuts, said):
    assert str(compare_set(cuts, tolerance=5, allowance=ONE_PERCENT)) == said


@pytest.mark.parametrize(
    ("cuts", "spread", "said"),
    [
        # Two taped mates 8 apart, and one that nobody measured.
        ([SetCut("A1", "R1", taped=100), SetCut("A2", "R2", taped=108), SetCut("A3", "R3")], 8, "not equal by tape"),
        # Marks of one family 8 apart are 7.92 at least.
        ([SetCut("A1", "R1", by_marks=100), SetCut("A2", "R1", by_marks=108), SetCut("A3", "R3")], 7, "one reel"),
        # 99 to 101 against 118.8 to 121.2: 17.8 apart at least.
        ([SetCut("A1", "R1", by_marks=100), SetCut("A2", "R2", by_marks=120)], 17, "not equal by marks"),
        # 100 taped against 105.93 to 108.07: 5.93 apart at least, more than 5.
        ([SetCut("A1", "R1", taped=100), SetCut("A2", "R2", by_marks=107)], 5, "cannot be verified"),
        ([SetCut("A1", "R1", taped=100), SetCut("A2", "R2", by_marks=108)], 6, "not equal by marks"),
    ],
)
def test_what_is_proven_unequal_is_told_unequal(cuts, spread, said):
    found = compare_set(cuts, tolerance=5, allowance=ONE_PERCENT)
    assert said in str(found)
    assert found.spread == (None if said.startswith("cannot") else spread)
