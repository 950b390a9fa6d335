"""What of a line is still to come, after any confirmations and shipments."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from kits.orders.course.still_coming import ordered_now, still_coming

DAY = date(2026, 3, 2)
days = st.none() | st.integers(0, 30).map(lambda number: DAY + timedelta(number))
amounts = st.integers(0, 200)


@given(asked=st.integers(1, 200), confirmed=st.lists(st.tuples(amounts, days), max_size=5), shipped=st.integers(0, 900))
def test_it_adds_up_to_what_is_ordered_less_what_is_shipped(asked, confirmed, shipped):
    ordered = ordered_now(asked, (ticks for ticks, _ in confirmed))
    parts = still_coming(ordered, confirmed, shipped)
    assert sum(part.quantity for part in parts) == max(0, ordered - shipped)
    assert all(part.quantity > 0 for part in parts)
    dated = [part.on for part in parts if part.on]
    assert dated == sorted(dated)
    for part in parts:
        assert not part.confirmed or part.quantity <= sum(ticks for ticks, on in confirmed if on == part.on)


@given(confirmed=st.lists(st.tuples(amounts, days), max_size=5), shipped=st.integers(0, 900), more=amounts)
def test_more_shipped_never_brings_a_day_nearer(confirmed, shipped, more):
    before = still_coming(500, confirmed, shipped)
    after = still_coming(500, confirmed, shipped + more)
    for day in {part.on for part in before} | {part.on for part in after}:
        assert sum(p.quantity for p in after if p.on == day) <= sum(p.quantity for p in before if p.on == day)


def test_what_a_confirmation_leaves_open_has_no_day():
    told = [(part.quantity, part.on, part.confirmed) for part in still_coming(10, [(4, DAY), (3, None)], 1)]
    assert told == [(3, DAY, True), (3, None, True), (3, None, False)]
