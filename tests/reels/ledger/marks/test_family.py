"""A reel and the pieces off it: one line of marks, nothing counted twice, whatever order records arrive in."""

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from time import perf_counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reels.ledger.marks.family import Member, families, family_books
from reels.ledger.marks.line import Contradiction
from reels.ledger.marks.printed import Interval, MarksError, ReelMarks, Showing
from takeoff.units.exact import to_ticks
from tests.reels.ledger.marks.drawn import DAY, FT, cut, reel

READING = FT // 2
FROM_260 = reel(260, 1000)


def books(*members, reading=READING):
    return family_books(members, reading)


def whole(*cuts, **more):
    return Member("R1", reel(0, 1000), cuts, **more)


def piece(tag="P", outer=260, inner=1000, **more):
    return Member(tag, reel(outer, inner), parent="R1", **more)


def test_a_remnant_beside_its_reel_is_not_counted_twice():
    found = books(whole(cut("a", 0, 260)), piece())
    assert (found["R1"].left, found["P"].left) == (0, 740 * FT)
    assert (found["R1"].given, found["R1"].disputes, found["R1"].whole) == (to_ticks(740), (), False)


def test_without_marks_a_remnant_is_not_counted_twice_either():
    plain, off = Member("R1", ReelMarks(1000 * FT), (cut("a", taped=260),)), ReelMarks(740 * FT)
    found = books(plain, Member("P", off, parent="R1"))
    assert (found["R1"].left, found["P"].left) == (0, 740 * FT)


def test_a_remnant_whose_marks_nobody_read_comes_off_what_is_left():
    found = books(whole(cut("a", 0, 260)), Member("P", ReelMarks(700 * FT), parent="R1"))
    assert (found["R1"].left, found["P"].left) == (40 * FT, 700 * FT)


def test_marks_of_another_unit_or_off_the_reel_tell_nothing_of_where_a_piece_lay():
    for off in (reel(80, 305, "m"), reel(2260, 3000)):
        found = books(whole(cut("a", 0, 260)), Member("P", replace(off, length=740 * FT), parent="R1"))
        assert (found["R1"].left, found["R1"].disputes) == (0, ())


def test_a_late_cut_off_the_reel_is_gone_from_the_remnant_and_disputed():
    found = books(whole(cut("a", 0, 260), cut("late", 260, 360)), piece())
    assert found["P"].left == 640 * FT
    assert found["P"].taken == to_ticks(100)
    [dispute] = found["R1"].disputes
    assert (dispute.first, dispute.second, dispute.pieces) == ("P", "late", {"P"})
    assert dispute.over == Interval(to_ticks(260), to_ticks(360))
    assert found["R1"].disputed == {"late"}


def test_the_same_cut_off_the_reel_and_off_its_remnant_is_counted_once():
    found = books(whole(cut("a", 0, 260), cut("b", 260, 360)), piece(cuts=(cut("c", 260, 360),)))
    assert found["P"].left == 640 * FT
    assert (found["R1"].cut_marks, found["P"].cut_marks) == (to_ticks(360), 0)
    assert found["P"].disputed == {"b", "c"}


def test_two_pieces_of_one_stretch_are_counted_once_and_disputed():
    found = books(whole(cut("a", 0, 260)), piece("P1"), piece("P2", 300, 1000))
    assert (found["P1"].left, found["P2"].left) == (740 * FT, 0)
    assert [dispute.pieces for dispute in found["R1"].disputes] == [{"P1", "P2"}]


def test_a_piece_inside_the_cut_that_failed_is_no_claim():
    found = books(whole(cut("a", 0, 260)), piece("W", 0, 260, out_of="a"), piece())
    assert (found["R1"].disputes, found["W"].left, found["P"].left) == ((), 260 * FT, 740 * FT)


def test_what_another_cut_claims_of_a_failed_one_is_gone_from_its_piece():
    found = books(whole(cut("a", 0, 260), cut("b", 200, 300)), piece("W", 0, 260, out_of="a"))
    assert found["W"].taken == to_ticks(60)


def test_a_piece_that_never_was_holds_nothing_and_takes_nothing_of_others():
    never = piece("N", never=True)
    found = books(whole(cut("a", 0, 260)), never, piece("P"))
    assert (found["N"].left, found["P"].left, found["R1"].disputes) == (0, 740 * FT, ())
    found = books(whole(cut("a", 0, 260)), piece("W", 0, 260, out_of="a", never=True))
    assert (found["W"].left, found["R1"].left) == (0, 740 * FT)
    plain = Member("R1", ReelMarks(1000 * FT), (cut("a", taped=260),))
    found = books(plain, Member("W", ReelMarks(260 * FT), parent="R1", out_of="a", never=True))
    assert (found["W"].left, found["R1"].left) == (0, 740 * FT)


def test_a_piece_out_of_a_failed_cut_has_it_before_a_piece_that_begins_further_out():
    found = books(whole(cut("a", 100, 260)), piece("W", 100, 260, out_of="a"), piece("P", 50, 1000))
    assert (found["W"].left, found["P"].taken) == (160 * FT, to_ticks(160))


def test_the_tape_of_a_failed_cut_rules_its_piece():
    taped = whole(cut("a", 0, 100, taped="98.5"))
    found = books(taped, piece("W", 0, 100, out_of="a"))
    assert found["W"].left == Fraction("98.5") * FT
    cut_in_half = piece("W", 0, 100, out_of="a", cuts=(cut("b", 0, 50),))
    assert books(taped, cut_in_half)["W"].left == Fraction("49.25") * FT
    assert books(whole(cut("a", 0, 20, taped=200)), piece("W", 0, 20, out_of="a"))["W"].left == 20 * FT, "mistyped"


def test_the_factor_of_the_family_serves_all_of_it():
    found = books(whole(cut("a", 0, 200, taped=198)), piece(outer=525))
    assert found["P"].factor == Fraction(99, 100)
    assert found["P"].left == 475 * FT * 99 // 100
    found = books(whole(cut("a", 0, 100, taped="99")), piece(outer=525, cuts=(cut("b", 525, 625, taped=99),)))
    assert found["R1"].factor == Fraction(99, 100), "two tapes of one family"


def test_a_late_taped_cut_without_marks_is_gone_from_the_remnant():
    found = books(whole(cut("a", 0, 260), cut("late", taped=50)), piece())
    assert (found["P"].left, found["R1"].from_pieces, found["R1"].overdrawn) == (690 * FT, to_ticks(50), 0)
    plain = Member("R1", ReelMarks(1000 * FT), (cut("a", taped=260), cut("late", taped=50)))
    found = books(plain, Member("P", ReelMarks(740 * FT), parent="R1"))
    assert (found["P"].left, found["R1"].from_pieces, found["R1"].overdrawn) == (690 * FT, 50 * FT, 0)


def test_a_cut_without_marks_before_the_remnant_was_taken_off_is_not_counted_again():
    later = cut("b", taped=10, at=DAY + timedelta(hours=1))
    found = books(whole(cut("a", 0, 250), later), piece())
    assert (found["R1"].unlogged_marks, found["R1"].from_pieces, found["P"].left) == (0, 0, 740 * FT)


def test_what_no_piece_can_have_given_is_more_than_the_reel_held():
    found = books(whole(cut("a", 0, 260), cut("late", taped=800)), piece())
    assert (found["P"].left, found["R1"].from_pieces, found["R1"].overdrawn) == (0, to_ticks(740), to_ticks(60))
    assert (found["P"].overdrawn, found["R1"].beyond) == (0, to_ticks(60))


def test_a_piece_of_a_piece_gives_what_its_own_reel_no_longer_holds():
    grand = Member("Q", reel(500, 1000), parent="P")
    found = books(whole(cut("a", 0, 260), cut("late", taped=300)), piece(cuts=(cut("b", 260, 500),)), grand)
    assert (found["P"].from_pieces, found["Q"].left, found["R1"].overdrawn) == (to_ticks(300), 200 * FT, 0)
    found = books(whole(cut("a", 0, 260), cut("late", 900, 1000)), piece(cuts=(cut("b", 260, 500),)), grand)
    assert (found["Q"].taken, found["Q"].left, found["P"].given) == (to_ticks(100), 0, to_ticks(400))


def test_a_piece_wound_the_other_way_begins_at_the_other_end():
    found = books(whole(cut("a", 0, 260)), piece(outer=1000, inner=260, cuts=(cut("b", 1000, 900),)))
    assert (found["P"].left, found["R1"].left) == (640 * FT, 0)


def test_a_circle_of_parents_is_refused():
    with pytest.raises(MarksError, match="cannot have come off itself"):
        books(Member("A", reel(), parent="B"), Member("B", reel(), parent="C"), Member("C", reel(), parent="B"))
    assert families({"A": "", "B": "A", "C": "B", "D": "gone"}) == {"A": "A", "B": "A", "C": "A", "D": "D"}


def test_a_mark_showing_moves_the_outer_end_and_makes_no_cut():
    found = books(whole(cut("a", 0, 260), showings=(Showing("r", to_ticks(300), DAY + timedelta(hours=1)),)))["R1"]
    assert (found.left, found.unlogged, found.contradicted) == (700 * FT, (Interval(to_ticks(260), to_ticks(300)),), ())
    assert (found.outermost, list(found.lengths)) == (to_ticks(300), ["a"])


def test_a_mark_showing_outside_the_innermost_cut_puts_it_in_doubt():
    late = (Showing("r", to_ticks(200), DAY + timedelta(hours=1)),)
    found = books(whole(cut("a", 0, 260), showings=late))["R1"]
    assert (found.left, found.contradicted) == (740 * FT, (Contradiction("r", "a", to_ticks(60)),))
    before = (Showing("r", to_ticks(200), DAY - timedelta(hours=1)),)
    assert books(whole(cut("a", 0, 260), showings=before))["R1"].contradicted == ()
    near = (Showing("r", to_ticks("259.6"), DAY + timedelta(hours=1)),)
    assert books(whole(cut("a", 0, 260), showings=near))["R1"].contradicted == ()


def test_where_the_cable_ended_rules_what_the_reel_held():
    short = Member("R1", replace(reel(0, 1000), end=to_ticks(990)), (cut("a", 0, 260),))
    assert books(short)["R1"].left == 730 * FT
    found = books(short, piece())
    assert (found["P"].left, found["R1"].overdrawn) == (730 * FT, 0)
    longer = replace(short, reel=replace(short.reel, end=to_ticks(1010)))
    assert books(longer)["R1"].left == 750 * FT
    beyond = books(replace(short, cuts=(cut("a", 0, 995),)))["R1"]
    assert (beyond.left, beyond.overdrawn, beyond.contradicted) == (0, 0, (Contradiction("", "a", to_ticks(5)),))


def test_hundreds_of_pieces_off_one_reel_are_worked_out_in_a_pass():
    def seconds(many):
        off = [piece(f"P{number}", number, number + 1) for number in range(many)]
        begun = perf_counter()
        books(Member("R1", reel(0, 4000)), *off)
        return perf_counter() - begun

    assert min(seconds(800) for _ in range(3)) < 8 * min(seconds(200) for _ in range(3)), "no worse than in step"


@st.composite
def drawn_families(draw):
    """A reel of 60 marks, pieces off it and off them, cuts off each, some of which failed and became pieces."""
    spans, parents, out_of = {"R": (0, 60)}, {"R": ""}, {}
    cuts: dict[str, list] = {"R": []}
    for number in range(draw(st.integers(0, 4))):
        tag, parent = f"P{number}", draw(st.sampled_from(sorted(spans)))
        low, high = spans[parent]
        start = draw(st.integers(low, high - 1))
        spans[tag], parents[tag], cuts[tag] = (start, draw(st.integers(start + 1, high))), parent, []
    for number in range(draw(st.integers(0, 6))):
        tag, name = draw(st.sampled_from(sorted(spans))), f"c{number}"
        low, high = spans[tag]
        start = draw(st.integers(low, high - 1))
        at = (start, draw(st.integers(start + 1, high)))
        hour = draw(st.integers(0, 5))
        if draw(st.integers(0, 4)) == 0:
            cuts[tag].append((name, None, draw(st.integers(1, 30)), hour))
            continue
        off = draw(st.sampled_from([None, None, Fraction(99, 100), Fraction(1)]))
        cuts[tag].append((name, at, off and (at[1] - at[0]) * off, hour))
        if draw(st.integers(0, 3)) == 0:
            spans[f"W{number}"], parents[f"W{number}"], out_of[f"W{number}"] = at, tag, name
            cuts[f"W{number}"] = []
    return spans, parents, out_of, cuts


def members_of(drawn, *, climbing=True, unit="ft", marked=True):
    spans, parents, out_of, cuts = drawn
    size = FT if unit == "ft" else 10_000_000

    def mark(place):
        return to_ticks(place if climbing else 60 - place)

    found = []
    for tag, (low, high) in spans.items():
        out = [made[2] for each in cuts.values() for made in each if made[0] == out_of.get(tag)]
        length = int((out[0] or high - low) * size) if out and not marked else (high - low) * size
        marks = ReelMarks(length, mark(low), mark(high), unit) if marked else ReelMarks(length, unit=unit)
        mine = []
        for name, at, taped, hour in cuts[tag]:
            tape = (at[1] - at[0]) if not marked and taped is None else taped
            ends = (mark(at[0]), mark(at[1])) if at and marked else (None, None)
            when = DAY + timedelta(hours=hour)
            made = cut(name, at=when)
            mine.append(replace(made, outer=ends[0], inner=ends[1], taped=None if tape is None else int(tape * size)))
        found.append(Member(tag, marks, tuple(mine), parent=parents[tag], out_of=out_of.get(tag, "")))
    return found


@given(drawn_families(), st.randoms(use_true_random=False), st.sampled_from(["ft", "m"]), st.booleans())
def test_the_books_of_a_family_do_not_depend_on_the_order_of_records(drawn, random, unit, marked):
    members = members_of(drawn, unit=unit, marked=marked)
    shuffled = [replace(member, cuts=tuple(random.sample(member.cuts, len(member.cuts)))) for member in members]
    random.shuffle(shuffled)
    assert family_books(shuffled, FT // 2) == family_books(members, FT // 2)


@given(drawn_families())
def test_falling_marks_give_a_family_the_same_books_as_climbing_ones(drawn):
    assert family_books(members_of(drawn, climbing=False)) == family_books(members_of(drawn))


@given(drawn_families(), st.sampled_from(["ft", "m"]))
def test_no_mark_of_a_family_is_counted_twice(drawn, unit):
    """What is left of a member no cut of its line took, but one that it came out of; and only one member has it."""
    members = members_of(drawn, unit=unit)
    found = family_books(members)
    spans, parents, out_of, cuts = drawn
    for place in range(60):
        holders = []
        for tag, (low, high) in spans.items():
            left = low + found[tag].outermost // 10_000 <= place < high
            if left and not _given(place, tag, spans, parents, out_of):
                holders.append(tag)
                line = list(_line(tag, parents))
                made = [name for each in line for name, at, _, _ in cuts[each] if at and at[0] <= place < at[1]]
                assert set(made) <= {out_of.get(each) for each in line}
        assert len(holders) <= 1


def _line(tag, parents):
    while tag:
        yield tag
        tag = parents[tag]


def _given(place, tag, spans, parents, out_of):
    return any(
        parents[other] == tag and other not in out_of and spans[other][0] <= place < spans[other][1] for other in spans
    )


@given(drawn_families(), st.sampled_from(["ft", "m"]), st.booleans())
def test_all_of_a_family_is_accounted_for(drawn, unit, marked):
    """Received + found = cut + unlogged + left: what was cut less what of it became a piece."""
    members = members_of(drawn, unit=unit, marked=marked)
    found = family_books(members, FT // 2)
    sizes = {member.tag: member.reel.span if marked else member.reel.length for member in members}
    back = sum(sizes[member.tag] - found[member.tag].taken for member in members if member.out_of)
    gone = left = overdrawn = 0
    for member in members:
        mine = found[member.tag]
        off = sum(mine.lengths.values()) if not marked else mine.cut_marks + mine.beyond
        gone += off + mine.readings + sum(gap.size for gap in mine.unlogged)
        left += mine.left_marks if marked else mine.left
        overdrawn += mine.overdrawn
    assert sizes["R"] + overdrawn == gone - back + left
    assert min(left, overdrawn, *(each.left for each in found.values())) >= 0
