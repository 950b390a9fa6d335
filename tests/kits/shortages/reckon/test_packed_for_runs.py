"""What a packing list brings, told apart by the runs that its order names."""

from kits.shortages.reckon.item import PackedLine
from kits.shortages.reckon.packed_for_runs import shared_by_runs


def shared(line: PackedLine, ordered: dict) -> list[tuple]:
    return [(part.listed, part.counted, sorted(part.fits)) for part in shared_by_runs(line, ordered)]


def test_a_line_is_shared_by_the_runs_of_its_order_in_turn_and_the_rest_fits_nobody():
    assert shared(PackedLine("S", 6, counted=3), {1: 2, 2: 3}) == [(2, 2, [1]), (3, 1, [2]), (1, 0, [])]


def test_what_an_earlier_line_brought_is_not_shared_again():
    ordered = {1: 2, 2: 3}
    assert shared(PackedLine("S", 3), ordered) == [(2, 0, [1]), (1, 0, [2])]
    assert shared(PackedLine("S", 2), ordered) == [(2, 0, [2])]


def test_what_the_order_names_no_run_for_fits_nobody():
    assert shared(PackedLine("S", 4), {None: 4}) == [(4, 0, [])]
    assert shared(PackedLine("S", 4), {}) == [(4, 0, [])]


def test_what_was_counted_beyond_the_list_fits_nobody():
    assert shared(PackedLine("S", 2, counted=5), {1: 2}) == [(2, 2, [1]), (0, 3, [])]
