"""The clock and the person who watches."""

import numpy as np
import pytest

from reels.planner import watch as module
from reels.planner.core import build_core
from reels.planner.problem import TENTH_FOOT, Demand, Limits, Problem, StockReel
from reels.planner.watch import TELL_EVERY, Watch

CORE = build_core(Problem(TENTH_FOOT, (StockReel("A", 100, True),), (Demand("D", 30, 2),), keep=20))
ONE, TWO = np.array([[1]]), np.array([[2]])


@pytest.fixture
def now(monkeypatch):
    time = [100.0]
    monkeypatch.setattr(module, "clock", lambda: time[0])
    return time


def test_time_is_counted_from_the_start_and_never_below_nothing(now):
    watch = Watch(Limits(seconds=10.0))
    now[0] = 104.0
    assert (watch.elapsed(), watch.left(), watch.over()) == (4.0, 6.0, False)
    now[0] = 110.0
    assert (watch.left(), watch.over(), watch.timed_out, watch.clocked) == (0.0, True, True, True)
    now[0] = 111.0
    assert watch.left() == 0.0


def test_a_stage_ends_by_its_share_of_what_is_left(now):
    watch = Watch(Limits(seconds=10.0))
    now[0] = 102.0
    over = watch.until(0.5)
    now[0] = 105.9
    assert (over(), watch.clocked) == (False, False)
    now[0] = 106.0
    assert (over(), watch.clocked, watch.timed_out) == (True, True, False)


def test_whoever_is_told_can_ask_to_stop_and_is_told_now_and_then(now):
    told = []
    watch = Watch(Limits(seconds=10.0), lambda stage, elapsed: told.append((stage, elapsed)) or len(told) > 2)
    watch.tell("first")
    now[0] += TELL_EVERY / 2
    assert not watch.over()
    assert told == [("first", 0.0)]
    now[0] += TELL_EVERY / 2
    assert not watch.over()
    assert told[1:] == [("first", TELL_EVERY)]
    now[0] += TELL_EVERY
    assert watch.over()
    assert (watch.asked, watch.timed_out) == (True, False)


def test_the_best_is_kept_and_told_and_everything_is_seen():
    told, seen = [], []
    watch = Watch(Limits(), lambda stage, _: told.append(stage), seen.append)
    assert watch.offer(CORE, ONE, "one")
    assert watch.offer(CORE, TWO, "two")
    assert not watch.offer(CORE, TWO, "again")
    assert not watch.offer(CORE, ONE, "worse")
    assert (told, len(seen)) == (["one", "two"], 4)
    assert watch.best.tolist() == [[2]]
    assert watch.best is not TWO
    watch.forget()
    assert (watch.best, watch.best_rank) == (None, None)
    assert watch.offer(CORE, ONE, "one")


def test_who_watches_is_told_before_any_stage_ends(now):
    told = []
    watch = Watch(Limits(seconds=10.0), lambda stage, elapsed: told.append((stage, elapsed)))
    now[0] += TELL_EVERY
    assert not watch.over()
    assert told == [("", TELL_EVERY)]
