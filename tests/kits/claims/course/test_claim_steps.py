"""What comes next of a claim, at each of its states."""

from datetime import date

import pytest

from kits.claims.course.claim_steps import Step, next_act
from kits.receiving.counting.dates import Deadlines

DATES = Deadlines(concealed=date(2026, 3, 9), claim=date(2026, 12, 2))


def steps(*said: tuple[str, int]) -> list[tuple[Step, date]]:
    return [(Step[name], date(2026, 3, day)) for name, day in said]


@pytest.mark.parametrize(
    ("today", "said", "step", "by"),
    [
        (9, (), "TOLD", date(2026, 3, 9)),
        (10, (), "FILED", date(2026, 12, 2)),
        (5, (("TOLD", 4),), "FILED", date(2026, 12, 2)),
        (6, (("TOLD", 4), ("FILED", 5)), "ACKNOWLEDGED", date(2026, 4, 4)),
        (8, (("FILED", 5), ("ACKNOWLEDGED", 7)), "CREDIT", date(2026, 7, 3)),
        (9, (("FILED", 5), ("DECLINED", 8)), "DROPPED", date(2028, 3, 8)),
        (20, (("FILED", 5), ("ACKNOWLEDGED", 7), ("DECLINED", 8), ("FILED", 9)), "ACKNOWLEDGED", date(2026, 4, 8)),
        (20, (("ACKNOWLEDGED", 7),), "FILED", date(2026, 12, 2)),
    ],
)
def test_what_is_next_and_by_when(today, said, step, by):
    act = next_act(steps(*said), DATES, date(2026, 3, today))
    assert (act.step, act.by) == (Step[step], by)
    assert act.source


def test_the_supplier_is_told_first_where_his_days_are_fewer():
    dates = Deadlines(date(2026, 3, 9), date(2026, 12, 2), notice=date(2026, 3, 6))
    act = next_act((), dates, date(2026, 3, 6))
    assert (act.what, act.by) == ("Tell the supplier of hidden damage", date(2026, 3, 6))
    assert next_act((), dates, date(2026, 3, 7)).what == "Tell the carrier of hidden damage"


@pytest.mark.parametrize("end", ["CREDIT", "REPLACEMENT", "DROPPED"])
def test_nothing_comes_after_its_end(end):
    assert next_act(steps(("FILED", 5), (end, 8)), DATES, date(2026, 3, 9)) is None
