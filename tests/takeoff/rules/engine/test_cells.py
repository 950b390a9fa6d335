"""A rule as the cells of its sheet."""

import pytest

from takeoff.rules.engine.cells import cell
from tests.takeoff.facts import FT, IN, ONE, row

SIZES = {"spacing": 36 * IN, "end_offset": 18 * IN}
RULE = row("section", "spaced", 2 * ONE, sides=2, allowance=500, fire_rated=False, tiers="", **SIZES)


@pytest.mark.parametrize(
    ("column", "in_feet", "in_metres"),
    [
        ("rule", RULE.name, RULE.name),
        ("amount", 2, 2),
        ("spacing", "3' 0\"", "914.4 mm"),
        ("end_offset", "1' 6\"", "457.2 mm"),
        ("piece", None, None),
        ("sides", 2, 2),
        ("fire_rated", "no", "no"),
        ("tiers", None, None),
        ("counted_on", "section", "section"),
    ],
)
def test_each_column_holds_what_its_reader_takes(column, in_feet, in_metres):
    assert (cell(RULE, column, "ft"), cell(RULE, column, "m")) == (in_feet, in_metres)


def test_an_allowance_and_an_amount_are_numbers_but_for_the_measure_length():
    assert str(cell(RULE, "allowance", "ft")) == "0.05"
    length = row("run", "length", 2 * FT, fire_rated=True)
    assert (cell(length, "amount", "ft"), cell(length, "fire_rated", "ft")) == ("2' 0\"", "yes")
    assert cell(row(), "fire_rated", "ft") is None
