"""
The steps of a claim, and what comes next of it. Pure.

A claim is open until it is settled or dropped. One that was declined stays open: whoever drops it says so. The dates
and where they come from stand in `kits/receiving/counting/dates.py`; the carrier's own terms govern.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum

from kits.receiving.counting.dates import ANSWER_SOURCE, CLAIM_SOURCE, Deadlines, answers_due, suit_by


class Step(Enum):
    """What was done about a claim."""

    TOLD = "told the carrier"
    FILED = "filed"
    ACKNOWLEDGED = "acknowledged"
    DECLINED = "declined"
    CREDIT = "settled by credit"
    REPLACEMENT = "settled by replacement"
    DROPPED = "dropped"


SETTLED = frozenset({Step.CREDIT, Step.REPLACEMENT})
ENDS = SETTLED | {Step.DROPPED}


@dataclass(frozen=True, slots=True)
class NextAct:
    """What is to be done about a claim or waited for, the step that says it is done, by when, and who sets that day."""

    what: str
    step: Step
    by: date
    source: str


def next_act(steps: Sequence[tuple[Step, date]], dates: Deadlines, today: date) -> NextAct | None:
    """
    Return what comes next of a claim; None once it is settled or dropped.

    steps : those that stand, in their order, each with its day; none before a claim is opened. dates : of its truck.
    """
    if steps and steps[-1][0] in ENDS:
        return None
    ahead = [notice for notice in dates.notices if today <= notice.by]
    if not steps and ahead:
        first = ahead[0]
        return NextAct(f"Tell the {first.whom} of hidden damage", Step.TOLD, first.by, first.source)
    last, day = steps[-1] if steps else (Step.TOLD, today)
    if last is Step.DECLINED:
        return NextAct("Declined: drop it, or take it further", Step.DROPPED, suit_by(day), CLAIM_SOURCE)
    filed = max((number for number, (step, _) in enumerate(steps) if step is Step.FILED), default=None)
    if filed is None:
        return NextAct("File the claim", Step.FILED, dates.claim, CLAIM_SOURCE)
    due = answers_due(steps[filed][1])
    if any(step is Step.ACKNOWLEDGED for step, _ in steps[filed:]):
        return NextAct("Hear what the carrier decides", Step.CREDIT, due.decide, ANSWER_SOURCE)
    return NextAct("Hear that the carrier has it", Step.ACKNOWLEDGED, due.acknowledge, ANSWER_SOURCE)
