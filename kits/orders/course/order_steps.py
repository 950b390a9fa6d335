"""
The steps of an order, how far they bring it, and what comes next of it. Pure.

The states are those of `Order.State`; *part received* is worked out from counts on pages, and only sheets say it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import Enum


class Step(Enum):
    """Something that was done about an order."""

    DRAFTED = "drafted"
    CHANGED = "changed"
    ASKED = "asked for"
    SENT = "sent"
    CONFIRMED = "confirmed"
    PART_RECEIVED = "part received"
    CHASED = "chased"
    REDATED = "re-dated"
    CANCELLED = "rest cancelled"
    CLOSED = "closed"


DRAFT, ASKED = "draft", "asked for"
SENT, CONFIRMED, PART_RECEIVED = "sent", "confirmed", "part received"
CLOSED, CANCELLED = "closed", "cancelled"
OPEN = frozenset({SENT, CONFIRMED, PART_RECEIVED})
NOT_SENT = frozenset({DRAFT, ASKED})
STATE_OF = {
    Step.DRAFTED: DRAFT,
    Step.ASKED: ASKED,
    Step.SENT: SENT,
    Step.CONFIRMED: CONFIRMED,
    Step.PART_RECEIVED: PART_RECEIVED,
    Step.CANCELLED: CANCELLED,
    Step.CLOSED: CLOSED,
}
STEP_OF = {state: step for step, state in STATE_OF.items()}
WRITTEN_AFTER = timedelta(days=2)  # how long a word by phone may stay a word: common practice


def state_after(steps: Iterable[Step], *, answered: bool) -> str:
    """
    Return how far an order is. steps : those of the whole order that stand. answered : whether a reply stands.

    One that is sent again as a new revision is as far as it was.

    >>> state_after([Step.DRAFTED, Step.SENT, Step.CHASED], answered=True)
    'confirmed'
    """
    state = DRAFT
    for step in steps:
        reached = STATE_OF.get(step, state)
        state = state if reached == SENT and state in OPEN else reached
    return CONFIRMED if state == SENT and answered else state


def why_not(step: Step, state: str) -> str:
    """
    Return why an order in a state cannot take a step, as the end of a sentence; empty where it can.

    >>> why_not(Step.CONFIRMED, "draft"), why_not(Step.SENT, "asked for")
    ('was not sent yet', '')
    """
    if state in {CLOSED, CANCELLED}:
        return f"is {state}: take that back first"
    if step in {Step.CHANGED, Step.ASKED, Step.DRAFTED} and state not in NOT_SENT:
        return "was sent: cancel its rest, or draft another"
    needs_sending = {Step.CONFIRMED, Step.PART_RECEIVED, Step.CHASED, Step.REDATED, Step.CLOSED}
    return "was not sent yet" if step in needs_sending and state in NOT_SENT else ""


@dataclass(frozen=True, slots=True)
class Standing:
    """
    What is known of an order that is open or not sent yet.

    since : when it came to its state. number : whether it has its purchase order's number. unanswered, undated :
    whether some of it nobody answered, or confirmed without a day. spoken : since when some of it rests on a word by
    phone. next_day : the first day of what is still to come. chased : when the supplier was last asked. left : whether
    anything is still to be shipped; to_count : whether something that was shipped is not counted yet.
    """

    state: str
    since: date
    number: bool = True
    unanswered: bool = False
    undated: bool = False
    spoken: date | None = None
    next_day: date | None = None
    chased: date | None = None
    left: bool = True
    to_count: bool = False


@dataclass(frozen=True, slots=True)
class NextAct:
    """What is to be done about an order: its kind, in words, and since or by when."""

    kind: str  # send, approval, count, close, late, reply, writing, number, due
    what: str
    on: date


def next_act(order: Standing, today: date) -> NextAct | None:
    """
    Return what comes next of an order, the most urgent of it; None once it is over.

    >>> next_act(Standing("sent", date(2026, 3, 2), unanswered=True), date(2026, 3, 4)).what
    'waits for a reply'
    """
    if order.state in {CLOSED, CANCELLED}:
        return None
    if order.state == DRAFT:
        return NextAct("send", "to be sent", order.since)
    if order.state == ASKED:
        return NextAct("approval", "waits for approval", order.since)
    if not order.left and order.to_count:
        return NextAct("count", "shipped, not counted yet", today)
    if not order.left:
        return NextAct("close", "all of it came: close it", today)
    if order.next_day and order.next_day < today:
        return NextAct("late", "did not come", order.next_day)
    if order.unanswered:
        return NextAct("reply", "waits for a reply", order.chased or order.since)
    if order.spoken and order.spoken + WRITTEN_AFTER <= today:
        return NextAct("writing", "said by phone, not in writing", order.chased or order.spoken)
    if order.undated:
        return NextAct("reply", "part of it has no day", order.chased or order.since)
    if not order.number:
        return NextAct("number", "its number is to follow", order.since)
    return NextAct("due", "comes", order.next_day or today)
