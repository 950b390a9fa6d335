"""A cell that no column can hold is refused, whatever the column."""

from contextlib import suppress

import pytest

from takeoff.sheets.cells.kinds import Number, Reading
from takeoff.sheets.cells.measured import Length
from takeoff.sheets.cells.problems import CellError
from takeoff.sheets.registry import tables


@pytest.mark.parametrize("cell", [float("nan"), float("inf"), -1e308, 10**30, 1e-30], ids=repr)
def test_a_number_beyond_all_bounds_is_read_as_words_or_refused_by_every_column(cell):
    for table in tables():
        for column in table.columns:
            read = column.kind.reader(Reading(), None)
            with suppress(CellError):
                assert isinstance(read(cell), str), f"{table.name} {column.name}"


def test_what_is_too_much_to_add_up_is_refused():
    number, length = Number().reader(Reading(), None), Length().reader(Reading(), None)
    assert number("1e9") == 10**9
    assert length("1000000 m") == 10**9
    with pytest.raises(CellError, match="at most 1\u202f000\u202f000\u202f000"):
        number("1000000000.0001")
    with pytest.raises(CellError, match="at most 1000 km"):
        length("1000000.001 m")
