from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from reels.ledger.first_fit import Piece, first_fit


def test_each_piece_goes_to_the_first_reel_that_holds_it_shortest_reels_first():
    fit = first_fit([Piece("a", 60), Piece("b", 40), Piece("c", 30)], [("R2", 100), ("R1", 50)])
    assert fit.placed == {"a": "R2", "b": "R1", "c": "R2"}
    assert fit.unmet == ()


def test_a_piece_that_no_reel_holds_stays_unmet():
    # 110 ft are left in all, but no reel holds 70 in one piece.
    fit = first_fit([Piece("a", 70)], [("R1", 55), ("R2", 55)])
    assert [piece.key for piece in fit.unmet] == ["a"]


def test_what_is_pulled_earlier_is_served_first():
    pieces = [Piece("late", 90, date(2026, 5, 1)), Piece("undated", 95), Piece("early", 50, date(2026, 4, 1))]
    fit = first_fit(pieces, [("R1", 100)])
    assert fit.placed == {"early": "R1"}
    assert [piece.key for piece in fit.unmet] == ["late", "undated"]


@given(st.lists(st.integers(1, 100), max_size=20), st.lists(st.integers(0, 200), max_size=6))
def test_no_reel_is_overdrawn_and_no_piece_lost(lengths, reels):
    pieces = [Piece(number, length) for number, length in enumerate(lengths)]
    stock = [(f"R{number}", length) for number, length in enumerate(reels)]
    fit = first_fit(pieces, stock)
    assert sorted([*fit.placed, *(piece.key for piece in fit.unmet)]) == list(range(len(lengths)))
    for tag, length in stock:
        assert sum(lengths[key] for key, reel in fit.placed.items() if reel == tag) <= length


@given(st.lists(st.integers(1, 100), max_size=20), st.lists(st.integers(0, 200), max_size=6))
def test_an_unmet_piece_fits_on_no_reel_as_it_is_left(lengths, reels):
    pieces = [Piece(number, length) for number, length in enumerate(lengths)]
    fit = first_fit(pieces, [(f"R{number}", length) for number, length in enumerate(reels)])
    left = dict(zip((f"R{number}" for number in range(len(reels))), reels, strict=True))
    for key, reel in fit.placed.items():
        left[reel] -= lengths[key]
    assert all(piece.length > max(left.values(), default=0) for piece in fit.unmet)
