"""A cable is projected by its cut plan while that still fits the yard, else by first fit."""

from dataclasses import replace

import pytest

from kits.shortages.cables import FIRST_FIT, STALE, OpenLength, Plan, Yard, cable_line
from kits.shortages.queries import reconcile
from kits.shortages.telling import as_json
from reels.models import CutPlan, PlannedCut, Reel
from takeoff.models import Conductor
from tests.kits.shortages.scene import AS_OF, Scene, at


def length(key, need=100, *, fits=True):
    return OpenLength(key, 1, "CB-1", f"A{key}", need, fits)


YARD = Yard(
    "C500", need=500, cut=200, on_reels=260, open=(length(1), length(2), length(3, fits=False)), here={"R-1": 250}
)
PLAN = Plan(
    name="accepted cut plan",
    cuts={1: ("R-1", 100), 2: ("R-1", 100)},
    unmet=frozenset({("CB-1", "A3")}),
    reels=frozenset({"R-1"}),
    buy=((1000, 1),),
    scrap=50,
    remnants=0,
    bound=50,
    gap=0,
    proven=True,
)


def test_a_plan_that_fits_says_all():
    line = cable_line(YARD, [PLAN])

    assert (line.method, line.need, line.cut, line.open, line.on_reels) == ("accepted cut plan", 500, 200, 300, 260)
    assert (line.buy, line.scrap, line.remnants, line.bound, line.gap, line.proven) == (
        ((1000, 1),),
        50,
        0,
        50,
        0,
        True,
    )
    assert [u.conductor for u in line.unmet] == ["A3"]


def test_nobody_says_what_to_buy_of_a_cable_whose_lengths_for_sale_are_not_known():
    assert cable_line(YARD, [replace(PLAN, buy=())]).buy is None
    nothing_unmet = replace(YARD, open=YARD.open[:2])
    assert cable_line(nothing_unmet, [replace(PLAN, buy=())]).buy == ()


def test_a_plan_being_carried_out_still_fits():
    cut_one = replace(YARD, cut=300, open=YARD.open[1:], here={"R-1": 150})

    assert cable_line(cut_one, [PLAN]).method == "accepted cut plan"


@pytest.mark.parametrize(
    "yard",
    [
        replace(YARD, open=(*YARD.open, length(4))),
        replace(YARD, open=(length(1, 101), *YARD.open[1:])),
        replace(YARD, here={"R-1": 199}),
        replace(YARD, here={}),
        replace(YARD, here={"R-1": 250, "R-2": 100}),
    ],
    ids=["a new length", "a length that grew", "less on the reel", "the reel is gone", "a new reel"],
)
def test_a_plan_that_the_yard_has_left_behind_is_not_followed(yard):
    line = cable_line(yard, [PLAN])

    assert (line.method, line.proven, line.scrap, line.bound) == (STALE, False, None, None)
    assert "A3" in [u.conductor for u in line.unmet]


def test_a_new_end_that_serves_nothing_changes_nothing():
    assert cable_line(replace(YARD, here={"R-1": 250, "R-2": 99}), [PLAN]).method == "accepted cut plan"


def test_the_first_plan_that_fits_is_taken():
    stale = replace(PLAN, cuts={})

    assert cable_line(YARD, [stale, replace(PLAN, name="proposed cut plan")]).method == "proposed cut plan"


def test_without_a_plan_first_fit_says_what_it_can():
    line = cable_line(YARD, [])
    everything = cable_line(replace(YARD, open=YARD.open[:2]), [])

    assert (line.method, line.buy, [u.conductor for u in line.unmet]) == (FIRST_FIT, None, ["A3"])
    assert (everything.buy, everything.unmet) == ((), ())


def test_a_length_that_is_not_known_yet_is_left_out():
    assert cable_line(replace(YARD, open=(length(9, 0, fits=False),)), [PLAN]).unmet == ()


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["proposed", "accepted"])
def test_a_stored_plan_shows_in_the_reconciliation(state):
    scene = Scene()
    run = scene.run()
    pieces = [
        Conductor.objects.create(run=run, name=name, cable=scene.cable, length=30_480)  # 100 ft
        for name in ("A1", "B1", "C1")
    ]
    reel = Reel.objects.create(site=scene.site, tag="R-1", cable=scene.cable, length=70_104)  # 230 ft
    plan = CutPlan.objects.create(
        site=scene.site,
        cable=scene.cable,
        state=state,
        asked_at=at(),
        stopped="proven",
        inputs={"reels": {"R-1": 697_992_000}},
        levels={"scrapFeet": 29.0, "remnants": 0},
        cost=39.2,
        cost_bound=38.2,
        unmet=[["CB-1", "C1", 304_800_000]],
        buy=[[1_500_000_000, 1]],
    )
    for seq, piece in enumerate(pieces[:2], 1):
        PlannedCut.objects.create(plan=plan, reel=reel, seq=seq, conductor=piece, length=piece.length)
    result = reconcile(scene.site, AS_OF)

    assert result.cables[0].method == f"{state} cut plan"
    assert as_json(result)["cables"] == [
        {
            "cable": "C500",
            "need": 91440,
            "cut": 0,
            "on_reels": 70104,
            "unmet": [{"run": "CB-1", "conductor": "C1", "length": 30480}],
            "buy": [{"length": 150000, "count": 1}],
            "scrap": 8839.2,
            "remnants": 0,
            "bound": 11643.36,
            "gap": 304.8,
            "proven": True,
        }
    ]


@pytest.mark.django_db
def test_a_plan_given_up_says_nothing():
    scene = Scene()
    CutPlan.objects.create(site=scene.site, cable=scene.cable, state="superseded", asked_at=at())

    assert reconcile(scene.site, AS_OF).cables[0].method == FIRST_FIT
