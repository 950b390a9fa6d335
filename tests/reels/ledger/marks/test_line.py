from datetime import timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reels.ledger.marks.line import reel_books
from reels.ledger.marks.printed import CutMarks, Interval, MarksError, ReelMarks
from takeoff.units.exact import to_ticks
from tests.reels.ledger.marks.drawn import DAY, FT, cut, laid, reel, reels_with_cuts

HALF_A_FOOT, METRE = FT // 2, 10_000_000  # [ticks]


def test_cuts_from_the_outer_end_leave_the_rest():
    books = reel_books(reel(), [cut("a", 1250, 1450), cut("b", 1450, 1700)])
    assert books.left == 2040 * FT
    assert books.lengths == {"a": 200 * FT, "b": 250 * FT}
    assert (books.unlogged, books.disputes, books.whole) == ((), (), False)


def test_a_metric_reel_counts_metres():
    books = reel_books(reel(500, 0, "m"), [cut("a", 500, 440)])
    assert books.left == to_ticks(440_000)


def test_cable_between_recorded_cuts_is_unlogged_and_gone():
    books = reel_books(reel(), [cut("a", 1250, 1450), cut("b", 1500, 1700)])
    assert books.unlogged == (Interval(to_ticks(200), to_ticks(250)),)
    assert books.unlogged_marks == to_ticks(50)
    assert books.left == 2040 * FT


def test_cable_outside_the_first_recorded_cut_is_unlogged_too():
    assert reel_books(reel(), [cut("a", 1256, 1450)]).unlogged == (Interval(0, to_ticks(6)),)


def test_overlapping_cuts_dispute_the_cable_that_both_claim():
    books = reel_books(reel(), [cut("b", 1400, 1600), cut("a", 1250, 1450), cut("c", 1600, 1700)])
    [dispute] = books.disputes
    assert (dispute.first, dispute.second) == ("a", "b")
    assert dispute.over == Interval(to_ticks(150), to_ticks(200))
    assert books.disputed == {"a", "b"}
    assert books.left == 2040 * FT


def test_cuts_that_touch_do_not_dispute():
    assert reel_books(reel(), [cut("a", 1250, 1450), cut("b", 1450, 1451)]).disputes == ()


def test_a_cut_inside_another_is_disputed_and_takes_nothing_more():
    books = reel_books(reel(), [cut("a", 1250, 1650), cut("b", 1300, 1350), cut("c", 1600, 1640)])
    assert {(d.first, d.second) for d in books.disputes} == {("a", "b"), ("a", "c")}
    assert books.left_marks == to_ticks(2090)
    assert books.disputes[0].over == Interval(to_ticks(50), to_ticks(100)), "no more than the inner one"


@pytest.mark.parametrize(("outer", "inner"), [(1249, 1300), (1300, 3741), (0, 5000)])
def test_a_cut_off_the_reel_is_refused(outer, inner):
    with pytest.raises(MarksError, match="does not lie on the reel"):
        reel_books(reel(), [cut("a", outer, inner)])


def test_a_reel_needs_two_different_marks():
    with pytest.raises(MarksError, match="are the same"):
        reel(100, 100)
    with pytest.raises(MarksError, match="or neither"):
        ReelMarks(length=1, outer=5)


def test_the_reels_own_factor_comes_from_its_taped_cuts():
    # 300 ft by marks were 297 ft by tape, so the 2190 marks left are 2168.1 ft.
    books = reel_books(reel(), [cut("a", 1250, 1450, "198"), cut("b", 1450, 1550, "99")])
    assert books.factor == Fraction(99, 100)
    assert books.left == 2190 * FT * 99 // 100


@pytest.mark.parametrize(
    ("cuts", "factor"),
    [
        # A trim of 1 ft that taped 12.5 in proves nothing of a reel.
        ([cut("a", 1250, 1251, "1.0417")], None),
        ([cut("a", 1250, 1350, "99.9")], None),
        ([cut("a", 1250, 1350, "99.9"), cut("b", 1350, 1351, "1")], Fraction(1009, 1010)),
        # Above 1 a single misread mark would make every later cut too short.
        ([cut("a", 1250, 1450, "202")], None),
        ([cut("a", 1250, 1450, "202"), cut("b", 1450, 1650, "202")], Fraction(101, 100)),
        # 404 of 400, of which neither is within half a foot of what that says.
        ([cut("a", 1250, 1450, "203"), cut("b", 1450, 1650, "201")], None),
        ([cut("a", 1250, 1450, "202.4"), cut("b", 1450, 1650, "201.6")], Fraction(101, 100)),
        # 2000 typed for 200, and 206 of 195.8: more than 5 % off.
        ([cut("a", 1250, 1450, "2000")], None),
        ([cut("a", 1250, 1450, "198"), cut("b", 1450, 1650, "211")], Fraction(99, 100)),
        ([cut("a", 1250, 1450, "190.1")], Fraction(1901, 2000)),
        ([cut("a", 1250, 1450, "189.9")], None),
    ],
)
def test_a_factor_counts_once_taped_cuts_prove_it(cuts, factor):
    assert reel_books(reel(), cuts, HALF_A_FOOT).factor == factor


def test_a_factor_in_metres_needs_thirty_of_them():
    def found(outer, inner, metres):
        marked = ReelMarks(length=400 * METRE, outer=0, inner=4_000_000, unit="m")
        taped = CutMarks("a", outer=outer * 10_000, inner=inner * 10_000, taped=to_ticks(metres) * 1000)
        return reel_books(marked, [taped], 1_500_000).factor

    assert found(0, 31, "30") == Fraction(30, 31)
    assert found(0, 30, "29.9") is None


def test_what_two_people_read_differently_is_no_gap_and_no_dispute():
    cuts = [cut("a", 1250, 1450), cut("b", "1449.9", "1600.2"), cut("c", "1600.4", 1700)]
    books = reel_books(reel(), cuts, HALF_A_FOOT)
    assert (books.disputes, books.unlogged, books.unlogged_marks) == ((), (), 0)
    assert (books.cut_marks, books.readings, books.left_marks) == (to_ticks("449.8"), to_ticks("0.2"), to_ticks(2040))
    assert books.cut_marks + books.readings + books.left_marks == reel().span
    told = reel_books(reel(), [cut("a", 1250, 1450), cut("b", "1449.5", "1600"), cut("c", "1600.5", 1700)], HALF_A_FOOT)
    assert (len(told.disputes), told.unlogged_marks, told.readings) == (1, to_ticks("0.5"), 0)


def test_a_cut_without_tape_is_measured_by_the_reels_factor():
    books = reel_books(reel(), [cut("a", 1250, 1450, "198"), cut("b", 1450, 1550)])
    assert books.lengths["b"] == 99 * FT


def test_a_later_cut_without_marks_comes_off_what_is_left():
    books = reel_books(reel(), [cut("a", 1250, 1450), cut("b", taped=50, at=DAY + timedelta(hours=1))])
    assert books.left == 2240 * FT
    assert books.outermost == to_ticks(250)


def test_an_earlier_cut_without_marks_accounts_for_unlogged_cable():
    later = DAY + timedelta(hours=2)
    books = reel_books(
        reel(),
        [cut("a", 1250, 1450), cut("b", taped=30, at=DAY + timedelta(hours=1)), cut("c", 1500, 1700, at=later)],
    )
    assert books.unlogged_marks == to_ticks(20)
    assert books.left == 2040 * FT


@pytest.mark.parametrize(
    ("outer_cut", "inner_cut", "without", "beyond"),
    [
        (0, 2, 1, 0),
        (0, 2, 2, 30),
        (2, 0, 1, 30),
    ],
    ids=["before the innermost cut", "with the innermost cut", "after the innermost cut, before one further out"],
)
def test_a_cut_without_marks_is_placed_by_the_innermost_cut(outer_cut, inner_cut, without, beyond):
    hours = [DAY + timedelta(hours=hour) for hour in (outer_cut, inner_cut, without)]
    cuts = [cut("a", 1250, 1450, at=hours[0]), cut("b", 1500, 1700, at=hours[1]), cut("c", taped=30, at=hours[2])]
    assert reel_books(reel(), cuts).beyond == to_ticks(beyond)


def test_of_two_cuts_that_end_at_the_same_mark_the_later_is_the_last():
    hours = [DAY + timedelta(hours=hour) for hour in (0, 2, 1)]
    cuts = [cut("a", 1500, 1700, at=hours[0]), cut("b", 1600, 1700, at=hours[1]), cut("c", taped=30, at=hours[2])]
    assert reel_books(reel(), cuts).beyond == 0


def test_a_part_of_a_mark_that_a_tape_measured_counts_as_a_whole_one():
    # A tick of a foot mark is 304.8 ticks of length.
    assert reel_books(reel(), [CutMarks("a", taped=305)]).beyond == 2


def test_more_than_the_unlogged_cable_comes_off_what_is_left():
    books = reel_books(reel(), [cut("a", 1260, 1450, at=DAY + timedelta(hours=1)), cut("b", taped=30)])
    assert books.unlogged_marks == 0
    assert books.left == (2490 - 200 - 20) * FT


def test_a_reel_without_marks_counts_taped_lengths():
    plain = ReelMarks(length=1000 * FT)
    books = reel_books(plain, [cut("a", taped=300), cut("b", taped=200)])
    assert (books.left, books.overdrawn) == (500 * FT, 0)
    assert reel_books(plain, [cut("a", taped=1001)]).overdrawn == FT
    assert (books.factor, books.disputes, books.unlogged, books.lengths) == (
        None,
        (),
        (),
        {"a": 300 * FT, "b": 200 * FT},
    )
    by_marks = (books.cut_marks, books.unlogged_marks, books.beyond, books.left_marks, books.outermost)
    assert by_marks == (0, 0, 0, 0, 0)
    assert (books.whole, reel_books(plain, []).whole) == (False, True)
    with pytest.raises(MarksError, match="needs a taped length"):
        reel_books(plain, [cut("a", 10, 20)])


# One reel of up to 3000 marks, cut anywhere, taped or not, some without marks.
marks = st.integers(0, 3000)


@given(reels_with_cuts(), st.randoms(use_true_random=False))
def test_the_books_do_not_depend_on_the_order_in_which_cuts_arrive(drawn, random):
    marked, cuts = laid(*drawn, climbing=True)
    shuffled = list(cuts)
    random.shuffle(shuffled)
    assert reel_books(marked, shuffled) == reel_books(marked, cuts)


@given(reels_with_cuts())
def test_falling_marks_give_the_same_books_as_climbing_ones(drawn):
    assert reel_books(*laid(*drawn, climbing=False)) == reel_books(*laid(*drawn, climbing=True))


@given(reels_with_cuts())
def test_naming_the_inner_mark_first_changes_nothing(drawn):
    marked, cuts = laid(*drawn, climbing=True)
    turned = [CutMarks(c.id, c.inner, c.outer, c.taped, c.at) for c in cuts]
    assert reel_books(marked, turned) == reel_books(marked, cuts)


@given(reels_with_cuts())
def test_all_of_the_reel_is_accounted_for(drawn):
    marked, cuts = laid(*drawn, climbing=True)
    books = reel_books(marked, cuts)
    gone = sum(gap.size for gap in books.unlogged)
    assert marked.span == books.cut_marks + gone + books.beyond + books.left_marks - books.overdrawn
    assert marked.span == books.outermost + books.left_marks


@given(reels_with_cuts())
def test_unlogged_cable_and_cuts_do_not_overlap(drawn):
    marked, cuts = laid(*drawn, climbing=True)
    covered = [marked.interval(c.outer, c.inner) for c in cuts if c.outer is not None]
    for gap in reel_books(marked, cuts).unlogged:
        assert all(gap.end <= piece.start or piece.end <= gap.start for piece in covered)


@given(reels_with_cuts())
def test_nothing_is_negative(drawn):
    books = reel_books(*laid(*drawn, climbing=True))
    assert min(books.cut_marks, books.unlogged_marks, books.beyond, books.left_marks, books.left) >= 0
    assert min(books.overdrawn, books.outermost, *books.lengths.values(), 0) >= 0


@given(reels_with_cuts())
def test_cuts_are_disputed_exactly_when_two_intervals_overlap(drawn):
    marked, cuts = laid(*drawn, climbing=True)
    placed = {c.id: marked.interval(c.outer, c.inner) for c in cuts if c.outer is not None}
    overlapping = {
        one
        for one, a in placed.items()
        for other, b in placed.items()
        if one != other and max(a.start, b.start) < min(a.end, b.end)
    }
    assert reel_books(marked, cuts).disputed == overlapping


@given(reels_with_cuts())
def test_one_more_cut_by_marks_never_leaves_more(drawn):
    marked, cuts = laid(*drawn, climbing=True)
    cuts = [CutMarks(c.id, c.outer, c.inner) for c in cuts if c.outer is not None]
    if cuts:
        assert reel_books(marked, cuts).left_marks <= reel_books(marked, cuts[:-1]).left_marks
