"""What lots are called, and how long they can be used."""

from datetime import date

from kits.stock.books.lots import last_usable_day, lot_named

MADE, PRINTED = date(2026, 1, 31), date(2026, 6, 1)


def test_a_lot_without_a_name_is_called_by_its_last_usable_day():
    assert [lot_named("L1", PRINTED), lot_named("", PRINTED), lot_named("", None)] == ["L1", "to 2026-06-01", ""]


def test_the_printed_day_rules_over_the_shelf_life():
    assert last_usable_day(MADE, PRINTED, 10) == PRINTED
    assert last_usable_day(MADE, None, 10) == date(2026, 2, 10)
    assert last_usable_day(MADE, None, None) is None
    assert last_usable_day(None, None, 10) is None
    assert last_usable_day(MADE, None, 0) == MADE
