"""What is said about a cell."""

from datetime import date, datetime, time

import pytest

from takeoff.sheets.cells.problems import SHOWN, Caution, CellProblem, show_cell


def test_a_problem_says_where_it_stands_what_was_found_and_what_was_expected():
    assert str(CellProblem("runs", 3, "tiers", "x", "1 to 4")) == "runs, row 3, column tiers: found x, expected 1 to 4"
    assert str(CellProblem("runs", None, "", "", "rows")) == "runs: found nothing, expected rows"
    assert str(CellProblem("", 0, "tiers", "", "1")) == "row 0, column tiers: found nothing, expected 1"
    assert str(CellProblem("", None, "", "x", "y")) == "found x, expected y"


def test_a_caution_says_why_a_person_should_look():
    assert str(Caution("runs", 3, "length", "99 ft", "is long")) == "runs, row 3, column length: 99 ft - is long"
    assert str(Caution("", None, "", "", "is long")) == "nothing - is long"
    assert Caution("", None, "", "", "x").asks
    assert Caution("", None, "", "", "x", key="a") == Caution("", None, "", "", "x", key="b", about="c")


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        (None, ""),
        (True, "TRUE"),
        (False, "FALSE"),
        (datetime.fromisoformat("2026-03-04"), "2026-03-04"),
        (datetime.fromisoformat("2026-03-04 14:30:15"), "2026-03-04 14:30"),
        (date(2026, 3, 4), "2026-03-04"),
        (time(14, 30), "14:30:00"),
        (3.0, "3"),
        (1e3, "1000"),
        (0.1, "0.1"),
        (" x ", "x"),
        ("x" * SHOWN, "x" * SHOWN),
        ("x" * (SHOWN + 1), "x" * (SHOWN - 1) + "…"),
    ],
    ids=repr,
)  # fmt: skip
def test_a_cell_is_shown_as_a_person_sees_it(cell, shown):
    assert show_cell(cell) == shown
