"""A cell that no column can hold is refused, whatever the column."""

from contextlib import suppress

import pytest

from takeoff.sheets.kinds import Reading
from takeoff.sheets.problems import CellError
from takeoff.sheets.registry import tables


@pytest.mark.parametrize("cell", [float("nan"), float("inf"), -1e308, 10**30, 1e-30], ids=repr)
def test_a_number_beyond_all_bounds_is_read_as_words_or_refused_by_every_column(cell):
    for table in tables():
        for column in table.columns:
            read = column.kind.reader(Reading(), None)
            with suppress(CellError):
                assert isinstance(read(cell), str), f"{table.name} {column.name}"
