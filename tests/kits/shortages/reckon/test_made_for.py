"""Runs that share a piece are reckoned together."""

from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.made_for import groups

runs = st.frozensets(st.integers(1, 6), max_size=3)


def test_each_run_is_by_itself_until_a_piece_fits_two():
    assert groups([1, 2, 3], []) == [frozenset([1]), frozenset([2]), frozenset([3])]
    assert groups([1, 2, 3], [frozenset([3, 1]), frozenset()]) == [frozenset([1, 3]), frozenset([2])]
    assert groups([1], [frozenset([1, 2]), frozenset([2, 3])]) == [frozenset([1, 2, 3])]


@given(st.frozensets(st.integers(1, 6)), st.lists(runs, max_size=6))
def test_groups_part_the_runs_and_split_no_piece(needing, fits):
    found = groups(needing, fits)
    assert sum(len(group) for group in found) == len(frozenset().union(needing, *fits))
    assert all(any(piece <= group for group in found) for piece in fits if piece)
    for group in found:
        for cut in ({run} for run in group if len(group) > 1):
            rest = group - cut
            assert any(piece & cut and piece & rest for piece in fits), "nothing holds the group together"
