"""A cable is projected by its stored cut plan while that still fits the yard, else by one worked out for it."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from kits.overview.today import due
from kits.shortages.queries import reconcile
from kits.shortages.reckon.cables import NOTHING_OPEN, ROOM_OF_A_CUT, CablePlan, CableYard, OpenLength, cable_line
from kits.shortages.reckon.lines import CableWare, Reconciliation, ReelsOnOrder
from kits.shortages.reckon.working_days import LeadTime
from kits.shortages.told.as_json import as_json
from kits.shortages.told.as_text import as_text, stage_text
from reels.models import CutPlan, Reel
from reels.planner.options import Options
from reels.plans.queries import options_of
from reels.plans.services import accept_plan, ask_for_plan, run_plan
from reels.plans.site_problem import gather
from tests.factories.reels import CutPlanFactory, PlannedCutFactory, ReelFactory
from tests.factories.takeoff import ConductorFactory
from tests.kits.shortages.scene import AS_OF, Scene


def length(key, need=100):
    return OpenLength(key, 1, "CB-1", f"A{key}", need)


A_CUT = ROOM_OF_A_CUT
YARD = CableYard("C500", need=500, cut=200, on_reels=260, open=(length(1), length(2), length(3)), here={"R-1": 250})
PLAN = CablePlan(
    name="accepted cut plan",
    cuts={1: "R-1", 2: "R-1"},
    unmet={("CB-1", "A3"): 100},
    reels=frozenset({"R-1"}),
    buy=((1000, 1),),
    scrap=50,
    remnants=0,
    bound=50,
    gap=0,
    proven=True,
)


NOW = replace(PLAN, name="cut plan worked out now")


def line_of(yard, *plans):
    return cable_line(yard, plans, lambda: NOW)


def test_a_plan_that_fits_says_all():
    line = line_of(YARD, PLAN)

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
    assert line_of(YARD, replace(PLAN, buy=())).buy is None
    nothing_unmet = replace(YARD, open=YARD.open[:2])
    assert line_of(nothing_unmet, replace(PLAN, buy=(), unmet={})).buy == ()


def test_a_plan_being_carried_out_still_fits():
    cut_one = replace(YARD, cut=300, open=YARD.open[1:], here={"R-1": 150})

    assert line_of(cut_one, PLAN).method == "accepted cut plan"


@pytest.mark.parametrize(
    "yard",
    [
        replace(YARD, open=(*YARD.open, length(4))),
        replace(YARD, open=(length(1, 151), *YARD.open[1:])),
        replace(YARD, here={"R-1": 199}),
        replace(YARD, here={}),
        replace(YARD, here={"R-1": 250, "R-2": 100}),
    ],
    ids=[
        "a new length",
        "a length that grew",
        "less on the reel",
        "the reel is gone",
        "a new reel for the rest",
    ],
)
def test_a_plan_that_the_yard_has_left_behind_is_not_followed(yard):
    assert line_of(yard, PLAN).method == "cut plan worked out now"


@pytest.mark.parametrize(
    "yard",
    [
        replace(YARD, open=(length(1), length(2)), here={"R-1": 250, "R-2": 500}),
        replace(YARD, open=(length(1, 150), length(2)), here={"R-1": 250}),
        replace(YARD, open=(length(1, 50), length(2)), here={"R-1": 250}),
    ],
    ids=["a reel came", "a length grew as far as its reel goes", "a length is shorter now"],
)
def test_a_plan_that_gives_every_length_its_reel_is_followed_whatever_else_changed(yard):
    assert line_of(yard, replace(PLAN, unmet={})).method == "accepted cut plan"


FOOT = 3_048_000


@pytest.mark.parametrize(
    "yard",
    [
        replace(YARD, open=(*YARD.open[:2], length(3, 20))),
        replace(YARD, open=YARD.open[:2]),
        replace(YARD, open=YARD.open[1:], here={"R-1": 250 + FOOT + A_CUT}),
    ],
    ids=["what found no reel is shorter now", "what found no reel was cut elsewhere", "a length was given up"],
)
def test_what_found_no_reel_is_tried_again_when_something_changed_for_it(yard):
    assert line_of(yard, PLAN).method == "cut plan worked out now"


def test_what_cuts_take_more_than_they_need_is_no_room_for_another():
    # Two cuts may each take 2 in and 0.1 ft more than they need, and the reel a foot: 50 are left by the needs.
    yard = replace(YARD, here={"R-1": 250 + FOOT + 2 * A_CUT})
    assert line_of(yard, PLAN).method == "accepted cut plan"
    assert line_of(replace(YARD, here={"R-1": 300 + FOOT + 2 * A_CUT}), PLAN).method == "cut plan worked out now"


def test_a_cut_may_take_two_inches_and_a_tenth_of_a_foot_more_than_it_needs():
    assert Decimal(ROOM_OF_A_CUT) / 10_000 == Decimal("81.28"), "50.8 mm and 30.48 mm"


def test_a_new_end_that_serves_nothing_changes_nothing():
    assert line_of(replace(YARD, here={"R-1": 250, "R-2": 99}), PLAN).method == "accepted cut plan"


def test_the_first_plan_that_fits_is_taken():
    stale = replace(PLAN, cuts={})

    assert line_of(YARD, stale, replace(PLAN, name="proposed cut plan")).method == "proposed cut plan"


def test_without_a_plan_that_fits_one_is_worked_out():
    line = line_of(YARD)

    assert (line.method, [u.conductor for u in line.unmet], line.buy) == (NOW.name, ["A3"], NOW.buy)


def test_where_nothing_is_to_be_cut_nothing_is_planned():
    line = cable_line(replace(YARD, open=(length(9, 0),)), [PLAN], lambda: pytest.fail("worked out for nothing"))

    assert (line.method, line.unmet, line.buy, line.scrap) == (NOTHING_OPEN, (), (), None)


def test_a_length_that_is_not_known_yet_is_left_out():
    assert [u.conductor for u in line_of(replace(YARD, open=(*YARD.open, length(9, 0))), PLAN).unmet] == ["A3"]


WAITING = replace(
    PLAN,
    cuts={1: "R-1", 2: "R-9", 3: "R-9"},
    unmet={},
    reels=frozenset({"R-1", "R-9"}),
    buy=(),
    waits=True,
)
COMING = replace(YARD, coming={"R-9": 200})


def test_a_plan_that_waits_for_a_reel_on_the_way_fits_and_says_which_lengths_wait():
    line = line_of(COMING, WAITING)

    assert (line.method, line.buy) == ("accepted cut plan", ())
    assert [(u.conductor, u.waits_for) for u in line.unmet] == [("A2", "R-9"), ("A3", "R-9")]


def test_once_the_reel_is_here_nothing_waits():
    assert line_of(replace(YARD, here={"R-1": 250, "R-9": 200}), WAITING).unmet == ()


def test_what_waits_for_a_reel_and_what_finds_none_are_apart():
    line = line_of(COMING, replace(WAITING, cuts={1: "R-1", 2: "R-9"}, unmet=PLAN.unmet))

    assert [(u.conductor, u.waits_for) for u in line.unmet] == [("A2", "R-9"), ("A3", "")]
    assert line.buy is None


@pytest.mark.parametrize(
    ("yard", "plan"),
    [
        (YARD, WAITING),
        (replace(COMING, coming={"R-9": 199}), WAITING),
        (COMING, replace(WAITING, waits=False)),
    ],
    ids=["it does not come", "it holds less", "a plan that counts on reels here only"],
)
def test_a_plan_cannot_wait_for_what_does_not_come(yard, plan):
    assert line_of(yard, plan).method == "cut plan worked out now"


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["proposed", "accepted"])
def test_a_stored_plan_shows_in_the_reconciliation(state):
    scene = Scene()
    run = scene.run()
    pieces = [
        ConductorFactory(run=run, name=name, cable=scene.cable, length=30_480)  # 100 ft
        for name in ("A1", "B1", "C1")
    ]
    reel = ReelFactory(site=scene.site, tag="R-1", cable=scene.cable, length=70_104)  # 230 ft
    plan = CutPlanFactory(
        site=scene.site,
        cable=scene.cable,
        state=state,
        stopped="proven",
        levels={"scrapFeet": 29.0, "remnants": 0},
        cost=39.2,
        cost_bound=38.2,
        unmet=[["CB-1", "C1", 304_800_000]],
        buy=[[1_500_000_000, 1]],
    )
    for seq, piece in enumerate(pieces[:2], 1):
        PlannedCutFactory(plan=plan, reel=reel, seq=seq, conductor=piece, length=piece.length)
    plan.inputs = gather(scene.site, scene.cable, options_of(plan)).inputs.as_json()
    plan.save()
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
            "short_on": None,
            "order_by": None,
            "order": [{"length": 150000, "count": 1}],
            "on_order": [],
        }
    ]


MAY = date(2026, 5, 1)


def bought(**fields):
    """A yard that lacks A3 of CB-1 and all of CB-2, with the cable's ways to be bought."""
    rows = (
        replace(length(1), planned=MAY),
        replace(length(2), planned=MAY),
        replace(length(3), planned=date(2026, 6, 10)),
        OpenLength(4, 2, "CB-2", "A1", 100, date(2026, 5, 30)),
    )
    ware = CableWare(1, sold=(500, 1000), lead=LeadTime(20), supplier="Wire works")
    return replace(YARD, open=rows, ware=ware, **fields)


def plan_that_buys(**fields):
    unmet = {("CB-1", "A3"): 100, ("CB-2", "A1"): 100}
    return replace(PLAN, unmet=unmet, buy_for=frozenset({"CB-2"}), **fields)


def test_an_order_is_due_the_lead_time_and_the_buffer_before_the_first_length_that_nothing_gives():
    line = cable_line(bought(), [plan_that_buys()], lambda: NOW, as_of=date(2026, 4, 1), buffer_days=3)
    # CB-2 on 30 May: less 3 and 20 days. A3 of CB-1 comes with the reels on the way, though no reel here gives it.
    assert (line.runs, line.short_on, line.order_by) == (("CB-2",), date(2026, 5, 30), date(2026, 5, 7))
    assert line.need_by == date(2026, 5, 27), "the day that a supplier is told"
    assert (line.order, line.buy) == (((1000, 1),), ((1000, 1),))


def test_what_is_overdue_counts_on_the_day_of_asking_and_what_is_undated_on_none():
    line = cable_line(bought(), [plan_that_buys()], lambda: NOW, as_of=date(2026, 6, 2), buffer_days=3)
    assert (line.short_on, line.order_by) == (date(2026, 6, 2), date(2026, 5, 8))  # the 10th is a Sunday
    undated = replace(bought(), open=tuple(replace(one, planned=None) for one in bought().open))
    line = cable_line(undated, [plan_that_buys()], lambda: NOW, as_of=date(2026, 6, 2))
    assert (line.short_on, line.order_by, line.order) == (None, None, ((1000, 1),))


def test_a_lead_time_that_nobody_gave_gives_no_day():
    yard = replace(bought(), ware=replace(bought().ware, lead=None))
    line = cable_line(yard, [plan_that_buys()], lambda: NOW, as_of=date(2026, 4, 1))
    assert (line.short_on, line.order_by) == (date(2026, 5, 30), None)


def test_what_is_on_order_is_not_ordered_again_and_stays_in_sight():
    coming = (ReelsOnOrder("PO-1", 1000, 1, date(2026, 5, 20)),)
    line = cable_line(bought(on_order=coming), [plan_that_buys()], lambda: NOW, as_of=date(2026, 4, 1))
    assert (line.buy, line.order, line.order_by, line.on_order) == (((1000, 1),), (), None, coming)
    result = replace(Reconciliation("s", date(2026, 4, 1)), cables=(line,))
    assert result.cables_to_buy == (line,)
    assert as_json(result)["cables"][0]["on_order"] == [
        {"order": "PO-1", "length": 0.1, "count": 1, "expected": "2026-05-20"}
    ]


def test_what_is_bought_is_for_the_run_that_goes_without_once_all_that_comes_is_here():
    # The reels here serve CB-1. Those on the way serve CB-2 better with the reel of CB-1, which then goes without.
    yard = replace(bought(), open=tuple(one for one in bought().open if one.key != 3))
    plan = replace(plan_that_buys(), unmet={("CB-2", "A1"): 100}, buy_for=frozenset({"CB-1"}))
    line = cable_line(yard, [plan], lambda: NOW, as_of=date(2026, 4, 1))
    assert (line.method, line.runs, line.short_on) == (plan.name, ("CB-1",), MAY)
    gone = cable_line(yard, [replace(plan, buy_for=frozenset({"CB-9"}))], lambda: NOW, as_of=date(2026, 4, 1))
    assert gone.runs == ("CB-2",), "CB-9 is cut since: what stays uncut goes without"


def test_a_plan_that_does_not_say_for_whom_it_buys_buys_for_all_that_it_leaves_uncut():
    plan = plan_that_buys()
    line = cable_line(bought(), [replace(plan, buy_for=frozenset())], lambda: NOW, as_of=date(2026, 4, 1))
    assert line.runs == ("CB-1", "CB-2")
    line = cable_line(bought(), [replace(plan, buy_for=frozenset(), buy=())], lambda: NOW, as_of=date(2026, 4, 1))
    assert line.runs == (), "all of it is on the way"


@pytest.fixture
def waiting():
    """An accepted plan made with the reels on the way: two lengths off R-1, which is here, one off R-545."""
    scene = Scene(safety_tail=0)
    run = scene.run()
    scene.stage(run, "cables", planned=AS_OF)
    for name in ("A1", "B1", "C1"):
        ConductorFactory(run=run, name=name, cable=scene.cable, length=30_480)  # 100 ft
    for tag, length, reel_state in (("R-1", 60_960, "on site"), ("R-545", 30_480, "on the way")):
        ReelFactory(site=scene.site, tag=tag, cable=scene.cable, length=length, state=reel_state)
    options = Options(seconds=2, with_coming=True)
    run_plan(plan=ask_for_plan(site=scene.site, cable=scene.cable, options=options))
    return scene


@pytest.mark.django_db
def test_an_accepted_plan_that_counts_on_reels_on_the_way_is_what_reconcile_says(waiting):
    plan = CutPlan.objects.of(waiting.site).get()
    accept_plan(site=waiting.site, plan=plan)
    late = plan.cuts.get(reel__tag="R-545").conductor.name
    result = reconcile(waiting.site, AS_OF)
    (line,) = result.cables
    assert (line.method, [(u.conductor, u.waits_for) for u in line.unmet]) == (
        "accepted cut plan",
        [(late, "R-545")],
    )
    cable = as_json(result)["cables"][0]
    assert cable["unmet"] == [{"run": "CB-1", "conductor": late, "length": 30480}]
    assert cable["buy"] == []
    (row,) = [row for row in result.readiness if row.stage == "cables"]
    assert "100 ft of C500 (waits for R-545, on the way)" in stage_text(row, "ft")
    told = " ".join("\n".join(as_text(result, name="site", unit="ft", width=200)).split())
    assert f"1 length waits for R-545, on the way (accepted cut plan): CB-1 {late} 100 ft" in told
    assert "no reel" not in told
    (unmet,) = due(result, frozenset({"planner"})).cable
    assert (unmet.names, unmet.waits_for) == ((late,), "R-545")

    Reel.objects.of(waiting.site).filter(tag="R-545").update(state="on site")
    assert reconcile(waiting.site, AS_OF).cables[0].unmet == ()


@pytest.mark.django_db
def test_nobody_waits_by_a_plan_that_nobody_accepted(waiting):
    (line,) = reconcile(waiting.site, AS_OF).cables
    assert line.method == "cut plan worked out now"
    assert [u.waits_for for u in line.unmet] == [""]


@pytest.mark.django_db
def test_a_plan_given_up_says_nothing():
    scene = Scene()
    piece = ConductorFactory(run=scene.run(), cable=scene.cable, length=30_480)
    reel = ReelFactory(site=scene.site, tag="R-1", cable=scene.cable, length=70_104)
    plan = CutPlanFactory(site=scene.site, cable=scene.cable, state="superseded")
    PlannedCutFactory(plan=plan, reel=reel, conductor=piece, length=piece.length)

    assert reconcile(scene.site, AS_OF).cables[0].method == "cut plan worked out now"
