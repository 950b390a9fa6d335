"""Which counts of an item of a shipment are of the same goods."""

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from kits.receiving.counting.counts_again import CountMade, counted_before, opens, replaced

CRATE, PALLET = 1, 2


def count(event: str, hour: int, package: int | None = None, said: tuple = (), **more) -> CountMade:
    return CountMade(event, datetime(2026, 3, 2, hour, tzinfo=UTC), package, said, **more)


def names(counts) -> list[str]:
    return [one.event for one in counts]


def test_a_count_of_the_same_goods_takes_the_place_of_every_earlier_one():
    first, second, again = count("a", 8), count("b", 9), count("c", 10, same=True)
    assert replaced([again, second, first]) == {first: again, second: again}


def test_it_leaves_what_was_counted_since_or_at_the_same_moment():
    again, other_row, since = count("a", 10, same=True), count("b", 10), count("c", 11)
    assert replaced([again, other_row, since]) == {}


def test_a_count_of_one_package_leaves_other_packages_and_counts_over_all():
    crate, pallet, over_all = count("a", 8, CRATE), count("b", 8, PALLET), count("c", 8)
    again = count("d", 9, CRATE, same=True)
    assert replaced([crate, pallet, over_all, again]) == {crate: again}


def test_the_first_that_took_its_place_is_named():
    first, second, third = count("a", 8), count("b", 9, same=True), count("c", 10, same=True)
    assert replaced([third, first, second]) == {first: second, second: third}


def test_what_was_finished_before_is_asked_about():
    part, done, elsewhere = count("a", 8, partial=True), count("b", 9), count("c", 9, PALLET)
    assert names(counted_before([part, done, elsewhere], count("d", 10, CRATE))) == ["b"]
    assert names(counted_before([part, done, elsewhere], count("d", 10))) == ["b", "c"]
    assert counted_before([part], count("d", 10)) == []


def test_a_later_count_that_came_first_is_asked_about_too():
    assert names(counted_before([count("b", 12)], count("a", 10))) == ["b"]


def test_a_later_count_of_further_goods_is_known_to_be_of_others():
    assert counted_before([count("b", 12, further=True)], count("a", 10)) == []
    assert names(counted_before([count("b", 9, further=True)], count("a", 10))) == ["b"]


def test_rows_of_one_moment_are_one_count_unless_they_say_the_same():
    damaged, again = count("b", 8, said=("damaged",)), count("c", 8, said=("good",))
    good = count("a", 8, said=("good",))
    assert counted_before([good], damaged) == []
    assert names(counted_before([good], again)) == ["a"]


def test_opening_what_was_taken_as_listed_is_of_the_same_goods():
    shut, opened = count("a", 8, CRATE, opened=False), count("b", 9, CRATE)
    assert opens([shut], opened)
    assert not opens([shut], count("b", 9, CRATE, opened=False))
    assert not opens([shut, count("c", 8, CRATE)], opened)
    assert not opens([count("c", 8, opened=False)], opened), "over all packages: somebody must say"
    assert not opens([], opened)


made = st.builds(
    CountMade,
    st.text("abcdef", min_size=3, max_size=6),
    st.integers(8, 14).map(lambda hour: datetime(2026, 3, 2, hour, tzinfo=UTC)),
    st.sampled_from([None, CRATE, PALLET]),
    st.just(()),
    same=st.booleans(),
)


@given(st.lists(made, max_size=8, unique_by=lambda one: one.event), st.randoms(use_true_random=False))
def test_it_does_not_matter_in_what_order_counts_come_to_be_known(counts, random):
    shuffled = list(counts)
    random.shuffle(shuffled)
    assert replaced(shuffled) == replaced(counts)


@given(st.lists(made, max_size=8, unique_by=lambda one: one.event))
def test_nothing_is_replaced_but_by_a_later_count_of_the_same_goods(counts):
    for old, by in replaced(counts).items():
        assert by.same
        assert by.at > old.at
        assert by.package in (None, old.package)
    last = max((one for one in counts if one.same and one.package is None), key=lambda one: one.at, default=None)
    if last:
        assert {one for one in counts if one.at < last.at} <= set(replaced(counts))
