"""The pictures of a shortage: bars that add up, steps that follow the projection."""

from datetime import date, timedelta
from itertools import pairwise
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.lines import CAUSES, BalanceStep, ShortItem, ShortLine
from kits.shortages.told.drawing import BOTTOM, LEFT, RIGHT, TOP, draw_bars, draw_steps

TODAY = date(2026, 5, 4)
ITEM = ShortItem(1, "LUG")


def line(*, causes=None, learned=0, timing=0, usable=0, need=None, steps=(), **more) -> ShortLine:
    """A line whose parts add up as the reckoning makes them."""
    causes = {name: (causes or {}).get(name, 0) for name in CAUSES}
    gap = sum(causes.values())
    zero = dict.fromkeys(
        ("takeoff", "drawn", "promised", "ordered", "shipped", "counted", "rejected", "on_hand", "issued", "used"), 0
    )
    need = gap + usable if need is None else need
    fields = {
        **zero,
        "inbound": 0,
        "need": need,
        "need_expected": need,
        "need_covered": need + learned,
        "short": max(0, gap + learned) + timing,
        "short_on": None,
        "order_by": None,
        "order": 0,
    }
    return ShortLine(
        ITEM, usable=usable, causes=causes, learned=learned, timing=timing, steps=tuple(steps), **{**fields, **more}
    )


def test_bars_add_up_to_what_is_short():
    bars = draw_bars(line(causes={"kit_list": 50_000, "lost": 20_000, "ordered_since": -40_000}, learned=10_000))
    assert (bars.added, bars.taken, bars.rest) == (80_000, 40_000, 40_000)
    assert [one.width for one in bars.adds] == [62.5, 25.0, 12.5]
    assert [(one.x, one.width) for one in bars.takes] == [(0.0, 50.0)]
    assert (bars.left.x, bars.left.width) == (50.0, 50.0)


def test_when_only_the_dates_make_it_short_the_rest_is_spare():
    bars = draw_bars(line(causes={"kit_list": -30_000}, timing=90_000))
    assert [one.name for one in bars.adds] == ["timing"]
    assert (bars.rest, bars.spare, bars.takes) == (90_000, 30_000, ())


def test_nothing_that_adds_gives_no_bars():
    assert draw_bars(line()) is None


parts = st.dictionaries(st.sampled_from(CAUSES), st.integers(-(10**7), 10**7), max_size=len(CAUSES))


@given(parts, st.integers(-(10**6), 10**7), st.integers(0, 10**7))
def test_whatever_the_causes_the_bars_say_exactly_what_is_short(causes, learned, timing):
    found = line(causes=causes, learned=learned, timing=timing)
    bars = draw_bars(found)
    if bars is None:
        assert found.short == 0
        return
    if found.short:
        assert bars.added - bars.taken == bars.rest == found.short
    for row in (bars.adds, bars.takes):
        end = 0.0
        for one in row:
            assert one.x == pytest.approx(end, abs=0.01), "each part starts where the last one ended"
            end = one.end
            assert end <= 100.01


def test_steps_fall_below_the_line_where_something_is_missing():
    found = line(
        usable=50_000,
        steps=[
            BalanceStep(TODAY, 0, 0, 0, 50_000),
            BalanceStep(TODAY + timedelta(days=10), 0, 80_000, 0, -30_000),
            BalanceStep(TODAY + timedelta(days=20), 40_000, 0, 0, 10_000),
        ],
        short_on=TODAY + timedelta(days=10),
        order_by=TODAY + timedelta(days=4),
    )
    steps = draw_steps(found, TODAY)
    balances = [level.balance for level in steps.levels if level.width]
    assert balances == [50_000, -30_000, 10_000]
    below = next(level for level in steps.levels if level.is_below)
    assert below.y > steps.zero, "further down is less"
    assert below.top == pytest.approx(steps.zero, abs=0.02)
    assert [mark.what for mark in steps.marks] == ["today", "order by", "short on"]
    assert steps.levels[-1].x2 == pytest.approx(RIGHT, abs=0.01)


@given(st.lists(st.tuples(st.integers(0, 400), st.integers(-(10**6), 10**6)), min_size=1, max_size=12))
def test_steps_stay_in_the_drawing_and_join_up(changes):
    by_day = dict(changes)
    steps = [BalanceStep(TODAY + timedelta(days=day), 0, 0, 0, by_day[day]) for day in sorted(by_day)]
    drawn = draw_steps(line(usable=1000, steps=steps), TODAY)
    for level, after in pairwise(drawn.levels):
        assert level.x2 == after.x1
        assert after.y0 == level.y
    for level in drawn.levels:
        assert LEFT - 0.01 <= level.x1 <= level.x2 <= RIGHT + 0.01
        assert 0 <= level.top <= level.top + level.height <= 100


def test_without_steps_there_is_no_picture():
    assert draw_steps(line(), TODAY) is None
    assert draw_steps(SimpleNamespace(steps=(BalanceStep(TODAY - timedelta(days=1), 0, 0, 0, 0),)), TODAY) is None


def test_where_there_is_never_anything_the_line_of_nothing_is_at_the_top():
    steps = draw_steps(line(steps=[BalanceStep(TODAY, 0, 10, 0, -10)]), TODAY)
    assert (steps.zero, min(level.y for level in steps.levels)) == (TOP, TOP)
    assert max(level.y for level in steps.levels) == BOTTOM
