"""A refusal of the ledger says what is there instead."""

from datetime import date
from fractions import Fraction

from kits.stock.books.balances import LackingError, Lying
from kits.stock.books.errors import MOST_NAMED, CannotBeError, LedgerError, not_there
from kits.stock.books.pieces import Piece

NAMES = {1: "Shelf A", 2: "Shelf B"}


def refused(there=(), expired=(), asked=90_000, **more):
    error = LackingError(item=7, asked=asked, there=tuple(there), expired=tuple(expired))
    return not_there(error, code="LUG", unit="each", names=NAMES, **more)


def test_it_names_what_is_there_by_place_lot_and_day():
    there = (Lying(1, "L1", 20_000, date(2026, 5, 4)), Lying(2, "", 15_000))
    error = refused(there)
    assert str(error) == "LUG: 9 each asked, 3.5 there (2 of lot L1 in Shelf A, usable to 2026-05-04, 1.5 in Shelf B)."
    assert (error.code, error.column, error.found, error.lacks) == ("not_there", "quantity", "9 each", "stock")
    assert error.expected.startswith("at most 3.5 each: 3.5 there (")


def test_it_tells_what_has_expired_and_what_lies_in_boxes_of_other_runs():
    error = refused(expired=(Lying(1, "", 20_000, date(2026, 1, 1)),), of_others=[(Lying(2, "", 30_000), "CB-9")])
    assert str(error) == (
        "LUG: 9 each asked, 0 there; expired and not to be handed out: 2 in Shelf A, usable to 2026-01-01; "
        "in boxes of other runs: 3 in Shelf B for CB-9; to borrow it, say from which run."
    )


def test_it_names_no_more_places_than_a_sentence_holds():
    assert "more places" not in str(refused([Lying(1, "", 10_000)] * MOST_NAMED))
    assert "and in 2 more places" in str(refused([Lying(1, "", 10_000)] * (MOST_NAMED + 2)))
    boxes = [(Lying(2, "", 10_000), f"CB-{number}") for number in range(MOST_NAMED + 1)]
    assert str(refused(of_others=boxes)).count("Shelf B for") == MOST_NAMED


def test_what_could_not_have_happened_is_told_apart():
    assert (LedgerError.malformed, CannotBeError.malformed) == (False, True)


def test_what_came_in_place_of_the_item_is_told_with_its_own_unit():
    piece = Piece(Fraction(280, 101), 9, "cartridge")
    there = (Lying(1, "L1", 20_000, piece=piece),)
    told = "LUG: 10 each asked, 5.5445 there (2 cartridges of lot L1 in Shelf A)."
    assert str(refused(there, asked=100_000)) == told
    error = LackingError(item=7, asked=30_000, there=there, pieces=piece)
    refusal = not_there(error, code="LUG", unit="each", names=NAMES)
    assert str(refusal) == "LUG: 3 cartridges asked, 2 there (2 cartridges of lot L1 in Shelf A)."
    assert refusal.expected.startswith("at most 2 cartridges: ")
