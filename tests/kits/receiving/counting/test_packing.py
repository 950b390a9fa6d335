"""Which lines of a packing list a count answers."""

from hypothesis import given
from hypothesis import strategies as st

from kits.receiving.counting.packing import ListedLine, answered, share

lines = st.lists(
    st.builds(ListedLine, st.integers(1, 9), st.just(1), st.none(), st.integers(1, 9), st.integers(0, 9)),
    min_size=1,
    max_size=5,
)


@given(lines, st.integers(0, 60))
def test_shares_add_up_and_fill_one_line_after_the_other(lines, quantity):
    shares = share(lines, quantity)
    assert [line for line, _ in shares] == lines
    assert sum(part for _, part in shares) == quantity
    for line, part in shares[:-1]:
        assert part <= line.open
    # A line gets something only when all before it have all that they lack.
    for number, (_, part) in enumerate(shares):
        if part:
            assert all(given == line.open for line, given in shares[:number])


def test_without_a_package_the_lines_of_all_packages_are_answered():
    first, second, other = ListedLine(1, 7, 1, 5), ListedLine(2, 7, 2, 5), ListedLine(3, 8, 1, 5)
    assert answered([first, second, other], 7, None) == [first, second]
    assert answered([first, second, other], 7, 2) == [second]


def test_what_a_line_lacks_is_listed_less_counted_and_never_below_zero():
    assert [ListedLine(1, 7, None, 5, counted).open for counted in (0, 2, 5, 6)] == [5, 3, 0, 0]


def test_what_is_counted_beyond_the_list_falls_on_its_last_line():
    first, last = ListedLine(1, 7, None, 5, 3), ListedLine(2, 7, None, 5)
    assert share([first, last], 9) == [(first, 2), (last, 7)]
    assert share([first, last], 1) == [(first, 1), (last, 0)]
    assert share([], 9) == []
