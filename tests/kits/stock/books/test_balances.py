"""The books in memory: what may be taken, and what any history keeps true."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.stock.books.balances import Books, ExpiryDiffersError, LackingError, Lying
from kits.stock.books.pieces import Piece

ITEM = 7
FAR, A, B, OUT = 1, 2, 3, 4
PLACES = [FAR, A, B, OUT]
TODAY = date(2026, 3, 2)

moves = st.tuples(
    st.sampled_from([1, 2]),  # item
    st.sampled_from(["", "L"]),
    st.sampled_from(PLACES),
    st.sampled_from(PLACES),
    st.integers(1, 5),
).filter(lambda move: move[2] != move[3])


def state(books: Books) -> dict:
    keys = [(place, item, lot) for place in PLACES for item in (1, 2) for lot in ("", "L")]
    return {key: books.at(*key) for key in keys}


def happen(books: Books, history: list) -> list:
    """Let a history happen; return the moves that the books took."""
    taken = []
    for move in history:
        try:
            books.move(*move)
            taken.append(move)
        except LackingError:
            pass
    return taken


@given(st.lists(moves, max_size=30))
def test_nothing_is_made_or_lost_and_no_real_place_falls_below_zero(history):
    books = Books(far_ends=[FAR])
    happen(books, history)
    kept = state(books)
    for item in (1, 2):
        assert sum(quantity for (_, of, _), quantity in kept.items() if of == item) == 0
    assert all(quantity >= 0 for (place, _, _), quantity in kept.items() if place != FAR)


@given(st.lists(moves, max_size=30))
def test_undoing_a_history_restores_what_was_there(history):
    books = Books({(A, 1, ""): 9}, far_ends=[FAR])
    before = state(books)
    books.undo(happen(books, history))
    assert state(books) == before


@given(st.lists(moves, max_size=30), st.randoms())
def test_the_order_of_what_happened_does_not_change_where_it_ends(history, random):
    """For moves that all went through; which of two rivals goes through does depend on who comes first."""
    books = Books(far_ends=PLACES)
    for move in history:
        books.move(*move)
    shuffled = list(history)
    random.shuffle(shuffled)
    other = Books(far_ends=PLACES)
    for move in shuffled:
        other.move(*move)
    assert state(books) == state(other)


balances_of_lots = st.dictionaries(
    st.tuples(st.sampled_from([A, B]), st.just(ITEM), st.text("xyz", max_size=2)), st.integers(0, 9)
)
last_days = st.dictionaries(
    st.tuples(st.just(ITEM), st.text("xyz", max_size=2)), st.dates(TODAY - timedelta(9), TODAY + timedelta(9))
)


@given(balances_of_lots, last_days, st.integers(1, 20))
def test_what_is_picked_is_there_not_expired_and_as_much_as_asked(balances, expires, quantity):
    books = Books(balances, expires=expires)
    usable = {key: there for key, there in balances.items() if expires.get((ITEM, key[2]), TODAY) >= TODAY and there}
    if sum(usable.values()) < quantity:
        with pytest.raises(LackingError) as caught:
            books.pick(ITEM, [[A, B]], quantity, on=TODAY)
        assert sum(lying.quantity for lying in caught.value.there) == sum(usable.values())
        return
    picked = books.pick(ITEM, [[A, B]], quantity, on=TODAY)
    assert sum(lying.quantity for lying in picked) == quantity
    for lying in picked:
        assert 0 < lying.quantity <= usable[lying.place, ITEM, lying.lot]
    days = [lying.expires or date.max for lying in picked]
    assert days == sorted(days)
    # Whatever expires before the last one picked has been taken whole.
    taken = {(lying.place, ITEM, lying.lot): lying.quantity for lying in picked}
    for key, there in usable.items():
        if expires.get((ITEM, key[2]), date.max) < days[-1]:
            assert taken[key] == there


def test_the_first_group_of_places_is_emptied_before_the_second_whatever_expires_first():
    books = Books({(A, ITEM, "late"): 3, (B, ITEM, "soon"): 5}, expires={(ITEM, "soon"): TODAY})
    assert books.pick(ITEM, [[A], [B]], 4, on=TODAY) == [Lying(A, "late", 3), Lying(B, "soon", 1, TODAY)]


def test_a_lot_serves_to_the_end_of_its_last_usable_day():
    books = Books({(A, ITEM, "L"): 3}, expires={(ITEM, "L"): TODAY})
    assert books.pick(ITEM, [[A]], 1, on=TODAY)
    with pytest.raises(LackingError) as caught:
        books.pick(ITEM, [[A]], 1, on=TODAY + timedelta(1))
    assert caught.value.expired == (Lying(A, "L", 3, TODAY),)
    assert caught.value.there == ()


def test_a_named_lot_is_the_only_one_that_serves():
    books = Books({(A, ITEM, "K"): 3, (A, ITEM, "L"): 3})
    with pytest.raises(LackingError) as caught:
        books.pick(ITEM, [[A]], 4, lot="L")
    assert caught.value.there == (Lying(A, "L", 3),)


def test_a_last_usable_day_is_told_once():
    books = Books()
    books.tell_expiry(ITEM, "L", TODAY)
    books.tell_expiry(ITEM, "L", TODAY)
    with pytest.raises(ExpiryDiffersError):
        books.tell_expiry(ITEM, "L", TODAY + timedelta(1))


def test_among_equals_the_places_are_emptied_in_the_order_given():
    books = Books({(A, ITEM, ""): 3, (B, ITEM, ""): 3})
    assert [lying.place for lying in books.pick(ITEM, [[B, A]], 4)] == [B, A]


def test_counts_that_are_known_beforehand_are_found():
    books = Books(counts=[((A, ITEM, ""), 5), ((A, ITEM, ""), 3), ((B, ITEM, ""), 4)])
    found = []
    for books.now in (2, 3, 5):
        found.append(books.next_count(A, ITEM, ""))
    assert found == [3, 5, None]


BIG = Piece(Fraction(280, 101), 9, "cartridge")  # worth 2.772277...


def with_pieces(own: int, big: int) -> Books:
    return Books({(A, ITEM, ""): own, (B, ITEM, "BIG"): big}, pieces={(ITEM, "BIG"): BIG})


def test_whole_pieces_cover_what_the_item_itself_does_not():
    """Worked by hand: 10 wanted, 2 lie there; 8 / 2.772277 = 2.9, so 3 pieces."""
    chosen = with_pieces(20_000, 40_000).pick(ITEM, [[A, B]], 100_000)
    assert chosen == [Lying(A, "", 20_000), Lying(B, "BIG", 30_000, piece=BIG)]


def test_pieces_that_cover_less_are_all_taken_and_the_item_itself_gives_the_rest():
    """Worked by hand: 1 piece covers 27 722.77 ticks, so 72 277.23 are left of 100 000: up."""
    chosen = with_pieces(90_000, 10_000).pick(ITEM, [[B], [A]], 100_000)
    assert [(one.lot, one.quantity) for one in chosen] == [("BIG", 10_000), ("", 72_278)]


def test_a_lot_that_is_named_is_taken_in_its_pieces():
    assert [one.quantity for one in with_pieces(0, 40_000).pick(ITEM, [[A, B]], 30_000, lot="BIG")] == [30_000]


def test_what_is_lacking_is_told_in_what_was_asked_in():
    """4 pieces cover 11.0891."""
    with pytest.raises(LackingError) as caught:
        with_pieces(20_000, 40_000).pick(ITEM, [[A, B]], 130_892)
    assert (caught.value.found, caught.value.pieces) == (130_891, None)
    with pytest.raises(LackingError) as caught:
        with_pieces(20_000, 40_000).pick(ITEM, [[A, B]], 50_000, lot="BIG")
    assert (caught.value.found, caught.value.pieces) == (40_000, BIG)
    with pytest.raises(LackingError) as caught:
        with_pieces(0, 40_000).move(ITEM, "BIG", B, OUT, 50_000)
    assert (caught.value.found, caught.value.pieces) == (40_000, BIG)


@given(own=st.integers(0, 90_000), big=st.integers(0, 9), wanted=st.integers(1, 200_000))
def test_what_is_chosen_covers_what_is_wanted_with_less_than_a_piece_to_spare(own, big, wanted):
    books = with_pieces(own, big * 10_000)
    if own + big * 10_000 * BIG.each < wanted:
        with pytest.raises(LackingError):
            books.pick(ITEM, [[A, B]], wanted)
        return
    chosen = books.pick(ITEM, [[A, B]], wanted)
    worth = sum(one.quantity * one.piece.each for one in chosen)
    assert wanted <= worth < wanted + 10_000 * BIG.each
    assert all(one.quantity % 10_000 == 0 for one in chosen if one.lot)


def test_how_a_lot_lies_is_noted_once_where_it_is_new():
    books = with_pieces(0, 0)
    books.tell_piece(ITEM, "BIG", BIG)
    assert books.new_pieces == {}
    books.tell_piece(ITEM, "OTHER", BIG)
    assert (books.piece(ITEM, "OTHER"), books.new_pieces) == (BIG, {(ITEM, "OTHER"): BIG})
