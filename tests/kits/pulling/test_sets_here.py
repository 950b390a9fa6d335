"""Which sets have everything here, and what the others lack."""

from datetime import date

from kits.pulling.sets_here import NOT_MEASURED, sets_to_pull
from kits.shortages.reckon.arrivals import stage_lines
from kits.shortages.reckon.lines import CABLE_UNIT, Missing, StageReadiness

BLOCK = Missing("BLOCK", "Block", "each", 20_000)


def stage(run, number, **more):
    said = {"stage": "cables", "planned": None, "state": "ready", **more}
    return StageReadiness(run_id=number, run=run, **said)


def length(name, reel=""):
    return Missing("C500", name, CABLE_UNIT, 1, waits_for=reel)


def sets(*rows, drawn=frozenset()):
    return sets_to_pull(stage_lines(rows, ()), drawn)


def test_what_has_everything_here_comes_first_each_part_by_day():
    rows = (
        stage("CB-1", 1, missing=(BLOCK,), planned=date(2026, 3, 1)),
        stage("CB-2", 2),
        stage("CB-3", 3, planned=date(2026, 3, 9)),
        stage("CB-4", 4, planned=date(2026, 3, 8)),
    )
    assert [(one.run, one.all_here) for one in sets(*rows)] == [
        ("CB-4", True), ("CB-3", True), ("CB-2", True), ("CB-1", False)
    ]  # fmt: skip


def test_everything_that_is_not_here_is_told():
    row = stage(
        "CB-1",
        1,
        blocked_by=("enclosure",),
        unmeasured=True,
        missing=(length("A1"), length("A2"), length("B1", "R-7"), BLOCK),
    )
    assert sets(row)[0].but_for == (
        "the enclosure, not done",
        NOT_MEASURED,
        "2 lengths of cable that no reel here gives",
        "1 length of cable off R-7, on the way",
        "2 Block; not on the way",
    )


def test_a_run_that_a_planner_lets_be_cut_to_the_drawing_needs_no_measure():
    row = stage("CB-1", 1, unmeasured=True)
    assert sets(row)[0].but_for == (NOT_MEASURED,)
    assert sets(row, drawn=frozenset({1}))[0].all_here
    assert not sets(row, drawn=frozenset({2}))[0].all_here


def test_cables_that_are_in_and_other_stages_are_no_sets_to_pull():
    assert sets(stage("CB-1", 1, state="done"), stage("CB-2", 2, stage="covers"), stage("CB-3", 3, idle=True)) == ()
