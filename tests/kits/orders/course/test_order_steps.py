"""How far the steps bring an order, and what comes next of it."""

from datetime import date, timedelta

import pytest

from kits.orders.course.order_steps import (
    CLOSED,
    OPEN,
    STATE_OF,
    STEP_OF,
    Standing,
    Step,
    next_act,
    state_after,
    why_not,
)
from kits.orders.models import Order

TODAY = date(2026, 3, 10)
SINCE = date(2026, 3, 2)


def test_every_state_of_an_order_is_reached_by_one_step():
    assert set(STEP_OF) == set(STATE_OF.values()) == set(Order.State.values)
    assert {state.value for state in Order.State if state.is_open} == OPEN


@pytest.mark.parametrize(
    ("steps", "answered", "state"),
    [
        ([], False, "draft"),
        (["drafted", "asked for"], False, "asked for"),
        (["drafted", "asked for", "sent", "chased", "re-dated"], False, "sent"),
        (["sent"], True, "confirmed"),
        (["sent", "confirmed", "sent"], False, "confirmed"),
        (["sent", "part received"], True, "part received"),
        (["sent", "rest cancelled"], True, "cancelled"),
        (["sent", "rest cancelled", "sent"], False, "sent"),
        (["sent", "closed"], True, "closed"),
    ],
)
def test_a_state_follows_from_the_steps(steps, answered, state):
    assert state_after([Step(step) for step in steps], answered=answered) == state


@pytest.mark.parametrize(
    ("step", "state", "why"),
    [
        ("sent", "draft", ""),
        ("sent", "confirmed", ""),
        ("sent", "closed", "is closed"),
        ("rest cancelled", "draft", ""),
        ("rest cancelled", "cancelled", "is cancelled"),
        ("changed", "sent", "was sent"),
        ("asked for", "asked for", ""),
        ("confirmed", "asked for", "was not sent yet"),
        ("closed", "draft", "was not sent yet"),
    ],
)
def test_what_a_state_does_not_allow(step, state, why):
    assert why_not(Step(step), state).startswith(why)
    assert bool(why_not(Step(step), state)) == bool(why)


@pytest.mark.parametrize(
    ("order", "kind"),
    [
        (Standing("draft", SINCE), "send"),
        (Standing("asked for", SINCE), "approval"),
        (Standing("sent", SINCE, left=False), "close"),
        (Standing("sent", SINCE, left=False, to_count=True), "count"),
        (Standing("sent", SINCE, unanswered=True, next_day=TODAY), "reply"),
        (Standing("sent", SINCE, unanswered=True, next_day=TODAY - timedelta(1)), "late"),
        (Standing("confirmed", SINCE, spoken=TODAY - timedelta(2), next_day=TODAY), "writing"),
        (Standing("confirmed", SINCE, spoken=TODAY - timedelta(1), next_day=TODAY), "due"),
        (Standing("confirmed", SINCE, undated=True), "reply"),
        (Standing("confirmed", SINCE, number=False, next_day=TODAY), "number"),
        (Standing("confirmed", SINCE, next_day=TODAY), "due"),
    ],
)
def test_the_most_urgent_comes_next(order, kind):
    act = next_act(order, TODAY)
    assert act is not None
    assert act.kind == kind


def test_nothing_comes_after_the_end():
    assert next_act(Standing(CLOSED, SINCE, unanswered=True), TODAY) is None
