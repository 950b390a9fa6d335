"""What pieces are worth of the item that they came in place of."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.stock.books.pieces import OWN, Piece, covered, shared_worth

# 28 and 10.1 fl oz: one large cartridge is worth 2.772277... small ones.
EACH = Fraction(280, 101)
CARTRIDGE = Piece(EACH, 9, "cartridge")


def test_what_pieces_cover_is_cut_to_four_decimals():
    assert covered(10_000, EACH) == 27_722
    assert covered(30_000, EACH) == 83_168


@pytest.mark.parametrize(
    ("piece", "wanted", "pieces"),
    [
        (CARTRIDGE, 1, 10_000),
        (CARTRIDGE, 27_722, 10_000),
        (CARTRIDGE, 27_723, 20_000),  # one covers 27 722.77 ticks
        (CARTRIDGE, 50_000, 20_000),  # 1.8 of them
        (CARTRIDGE, 110_891, 40_000),
        (Piece(Fraction(1), 9, "cartridge"), 15_000, 20_000),
        (Piece(Fraction(4), 9, "litre"), 50_001, 12_501),  # a measure is taken to the tick
        (OWN, 15_000, 15_000),
        (OWN, Fraction(3, 2), 2),
    ],
)
def test_what_came_in_place_of_an_item_covers_a_need_in_whole_pieces_up(piece, wanted, pieces):
    assert piece.covering(wanted) == pieces


def test_places_share_what_the_receipts_cover():
    """Worked by hand: two receipts of a piece cover 2.7722 each, 5.5444 in all, and not the 5.5445 of both at once."""
    assert shared_worth([10_000, 10_000], each=EACH, came=[10_000, 10_000]) == [27_722, 27_722]
    assert shared_worth([20_000], each=EACH, came=[10_000, 10_000]) == [55_444]
    assert shared_worth([10_000, 10_000], each=EACH, came=[20_000]) == [27_722, 27_723]


def test_what_was_found_though_nothing_came_is_worth_what_it_covers():
    assert shared_worth([20_000, -20_000], each=EACH, came=[]) == [55_445, -55_445]


@given(
    each=st.fractions(min_value="1/50", max_value=50, max_denominator=5000),
    came=st.lists(st.integers(1, 90_000), max_size=5),
    found=st.integers(-90_000, 90_000),
    cuts=st.lists(st.integers(0, 500_000), max_size=6),
)
def test_however_pieces_lie_their_worth_adds_up_to_what_the_receipts_cover(each, came, found, cuts):
    there = max(0, sum(came) + found)
    bounds = [0, *sorted(min(cut, there) for cut in cuts), there]
    real = [after - before for before, after in pairwise(bounds)]
    places = [*real, sum(came) - there]  # the last one is lost and found
    shares = shared_worth(places, each=each, came=came)
    assert sum(shares) == sum(covered(one, each) for one in came)
    assert all(share >= 0 for share in shares[:-1])
    rate = Fraction(sum(covered(one, each) for one in came), sum(came)) if came else each
    assert all(abs(share - pieces * rate) < 1 for share, pieces in zip(shares, places, strict=True))
