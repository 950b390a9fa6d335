from dataclasses import replace

import pytest

from reels.plans.staleness import CutMade, Inputs, changes

THEN = Inputs(
    reels={"R1": 1000, "R2": 500},
    cuts={"R1": ("c1",), "R2": ()},
    needs={("BUS-1", "A1"): 200, ("BUS-1", "A2"): 200, ("BUS-2", "A1"): 300},
    planned={"BUS-1": "2026-04-01", "BUS-2": ""},
    as_built={},
    settings={"keep length": "30"},
)
PLANNED = {("BUS-1", "A1"): "R1", ("BUS-1", "A2"): "R1"}


def said(now, made=None):
    up, down = (lambda ticks: f"{ticks} mm"), (lambda ticks: f"{ticks // 10} cm")
    found = changes(THEN, now, made=made or {}, planned_on=PLANNED, up=up, down=down)
    return [(change.kind, str(change)) for change in found]


def changed(*, without=None, **fields):
    """The inputs with other fields, and without the need of one conductor."""
    if without:
        fields["needs"] = {name: length for name, length in THEN.needs.items() if name != without}
    return replace(THEN, **fields)


def test_nothing_changed_is_not_stale():
    assert said(THEN) == []


def test_what_is_kept_reads_back_the_same():
    assert Inputs.from_json(THEN.as_json()) == THEN
    assert Inputs.from_json(THEN.as_json()).digest == THEN.digest
    assert Inputs.from_json({}) == Inputs()


CASES = {
    "cut as planned": (
        changed(cuts={"R1": ("c1", "c2"), "R2": ()}, reels={"R1": 800, "R2": 500}, without=("BUS-1", "A1")),
        {("BUS-1", "A1"): CutMade("R1", "c2")},
        ("cut", "BUS-1 A1 was cut off R1, as planned."),
    ),
    "cut off another reel": (
        changed(cuts={"R1": ("c1",), "R2": ("c2",)}, reels={"R1": 1000, "R2": 300}, without=("BUS-1", "A1")),
        {("BUS-1", "A1"): CutMade("R2", "c2")},
        ("cut", "BUS-1 A1 was cut off R2, planned off R1."),
    ),
    "cut though unmet": (
        changed(cuts={"R1": ("c1", "c2"), "R2": ()}, reels={"R1": 700, "R2": 500}, without=("BUS-2", "A1")),
        {("BUS-2", "A1"): CutMade("R1", "c2")},
        ("cut", "BUS-2 A1 was cut off R1, not planned."),
    ),
    "cut for no conductor": (
        changed(cuts={"R1": ("c1", "c2"), "R2": ()}, reels={"R1": 990, "R2": 500}),
        {},
        ("cut", "Cut c2 was recorded on R1."),
    ),
    "cut reversed": (
        changed(cuts={"R1": (), "R2": ()}, reels={"R1": 1200, "R2": 500}),
        {},
        ("cut", "Cut c1 on R1 was taken back."),
    ),
    "new reel": (
        changed(reels={**THEN.reels, "R3": 900}, cuts={**THEN.cuts, "R3": ()}),
        {},
        ("reel", "Reel R3 came."),
    ),
    "reel gone": (
        changed(reels={"R1": 1000}, cuts={"R1": ("c1",)}),
        {},
        ("reel", "Reel R2 can no longer be cut."),
    ),
    "reel measured anew": (
        changed(reels={"R1": 990, "R2": 500}),
        {},
        ("reel", "Reel R1 holds 99 cm, not 100 cm."),
    ),
    "as-built length": (
        changed(as_built={"BUS-2": "310"}),
        {},
        ("as-built length", "The as-built length of BUS-2 changed."),
    ),
    "longer need": (
        changed(needs={**THEN.needs, ("BUS-1", "A1"): 210, ("BUS-1", "A2"): 210}),
        {},
        ("need", "BUS-1 A1, A2 need 210 mm, not 200 mm."),
    ),
    "reel measured a little less": (
        changed(reels={"R1": 999, "R2": 500}),
        {},
        ("reel", "Reel R1 holds 99 cm, not 100 cm."),
    ),
    "reel measured a little more": (
        changed(reels={"R1": 1001, "R2": 500}),
        {},
        ("reel", "Reel R1 holds a little more than before: 100 cm."),
    ),
    "new need": (
        changed(needs={**THEN.needs, ("BUS-3", "A1"): 9}),
        {},
        ("need", "BUS-3 A1 is to be cut."),
    ),
    "need gone": (
        changed(without=("BUS-2", "A1")),
        {},
        ("need", "BUS-2 A1 is no longer to be cut."),
    ),
    "date": (
        changed(planned={"BUS-1": "", "BUS-2": ""}),
        {},
        ("date", "The cables of BUS-1 are planned for no day."),
    ),
    "setting": (
        changed(settings={"keep length": "40"}),
        {},
        ("setting", "The setting keep length changed."),
    ),
}


@pytest.mark.parametrize(("now", "made", "expected"), CASES.values(), ids=CASES.keys())
def test_each_change_is_told(now, made, expected):
    assert said(now, made) == [expected]
    assert now.digest != THEN.digest


def test_a_measured_run_that_has_all_its_cable_did_not_change_its_length():
    then = replace(THEN, as_built={"BUS-1": "310", "BUS-2": "90"})
    now = replace(then, as_built={"BUS-2": "90"}, planned={"BUS-2": ""}, needs={("BUS-2", "A1"): 300})
    made = {("BUS-1", name): CutMade("R1", f"c-{name}") for name in ("A1", "A2")}
    found = changes(then, now, made=made, planned_on=PLANNED, up=str, down=str)
    assert {change.kind for change in found} == {"cut"}
    # Taken back while cable of it is still to be cut, it did.
    back = changes(then, replace(then, as_built={"BUS-2": "90"}), made={}, planned_on=PLANNED, up=str, down=str)
    assert [str(change) for change in back] == ["The as-built length of BUS-1 changed."]


@pytest.mark.parametrize(
    ("cut_names", "as_planned"), [(("A1", "A2"), True), (("A1",), False), ((), False)], ids=["all", "some", "none"]
)
def test_a_reel_that_gave_all_its_share_and_is_used_up_is_no_surprise(cut_names, as_planned):
    now = replace(THEN, reels={"R2": 500}, cuts={"R2": ()})
    made = {("BUS-1", name): CutMade("R1", f"c-{name}") for name in cut_names}
    found = changes(THEN, now, made=made, planned_on=PLANNED, up=str, down=str)
    assert [(str(one), one.as_planned) for one in found if one.kind == "reel"] == [
        ("Reel R1 can no longer be cut.", as_planned)
    ]


def test_a_reel_that_the_plan_left_alone_and_that_is_gone_is_told():
    found = changes(THEN, replace(THEN, reels={"R1": 1000}), made={}, planned_on=PLANNED, up=str, down=str)
    assert [(str(one), one.as_planned) for one in found if one.kind == "reel"] == [
        ("Reel R2 can no longer be cut.", False)
    ]
