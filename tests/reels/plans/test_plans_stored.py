from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from reels.models import CutPlan, PlannedCut, Reel
from reels.planner.options import Options
from reels.planner.problem import INCH, MILLIMETRE, TENTH_FOOT, Rates
from reels.planner.solve import plan_cuts
from reels.plans.queries import options_of, stored_as_json
from reels.plans.services import PlanError, accept_plan, ask_for_plan, cancel_plan, run_plan, stop_plan
from reels.plans.site_problem import gather, solve
from takeoff.models import Stage
from takeoff.units.exact import to_ticks
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, ConductorFactory, RunFactory, SiteFactory
from tests.reels.makers import FT, at, cut, decide, make_conductors
from tests.reels.plans.web import QUICK, planned

pytestmark = pytest.mark.django_db


def shares(plan):
    """The conductors of each reel in the order to cut them."""
    found = {}
    for planned_cut in plan.cuts.order_by("reel__tag", "seq"):
        found.setdefault(planned_cut.reel.tag, []).append(str(planned_cut.conductor))
    return found


def ask(site, cable, **fields):
    return gather(site, cable, Options(**fields))


def test_lengths_needed_round_up_and_reels_down(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), "100.01", "A1")
    ReelFactory(site=site, tag="R1", feet="1000.09")
    found = ask(site, cable)
    assert found.problem.unit == TENTH_FOOT
    assert [demand.length for demand in found.problem.demands] == [1001]
    assert [reel.length for reel in found.problem.reels] == [10000]
    assert found.problem.keep == 300


@pytest.mark.parametrize(
    ("unit", "grid", "expected"),
    [("ft", "", TENTH_FOOT), ("m", "", MILLIMETRE), ("ft", "1 in", INCH), ("m", "1 in", INCH)],
)
def test_the_planning_grid_is_the_sites(unit, grid, expected):
    site = SiteFactory(unit=unit, planning_grid=grid, whole_reels=True)
    assert ask(site, CableFactory(site=site)).problem.unit == expected


def test_a_safety_tail_comes_off_first():
    site = SiteFactory(safety_tail=FT, mark_allowance=Decimal("0.01"), whole_reels=True)
    ReelFactory(site=site, tag="MARKED", outer_mark=0, inner_mark=1010)
    ReelFactory(site=site, tag="PLAIN", feet=500)
    tails = {reel.id: (reel.length, reel.tail) for reel in ask(site, CableFactory(site=site)).problem.reels}
    # 1 ft, and 0.01 of the 1009 ft beyond it.
    assert tails == {"MARKED": (10100, 111), "PLAIN": (5000, 10)}


def test_the_conductors_of_a_phase_are_a_set_and_dates_are_classes(site, cable):
    make_conductors(RunFactory(site=site, name="LATE", planned=date(2026, 5, 1), measured=True), 100, "A1", "A2", "B1")
    make_conductors(RunFactory(site=site, name="NEVER", measured=True), 50, "A1")
    make_conductors(RunFactory(site=site, name="SOON", planned=date(2026, 4, 1), measured=True), 70, "A1", "N1")
    demands = {demand.set_id: demand for demand in ask(site, cable).problem.demands}
    assert {key: (d.count, d.run_id, d.date_class) for key, d in demands.items()} == {
        "LATE A": (2, "LATE", 2),
        "LATE B": (1, "LATE", 2),
        "NEVER A": (1, "NEVER", 3),
        "SOON A": (1, "SOON", 1),
        "SOON N": (1, "SOON", 1),
    }


def test_only_what_is_still_to_cut_and_can_be_cut_is_planned(site, cable):
    a1, a2, a3 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2", "A3", least=98)
    other = CableFactory(site=site, code="350-CU", size="350")
    make_conductors(RunFactory(site=site, name="BUS-2", cable=other, measured=True), 100, "A1")
    unmeasured = ConductorFactory(run=RunFactory(site=site, name="NEW", measured=True), cable=cable)
    reel = ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=1000)
    for state in ("held", "returned", "empty", "on the way"):
        ReelFactory(site=site, tag=state, feet=500, state=state)
    ReelFactory(site=site, tag="OTHER", feet=500, cable=other)
    cut(reel, 0, 100, conductor=a1)
    decide(cut(reel, 100, 199, conductor=a2).cut, "accepted", event_id="D", reason="fits", at=at(3))
    found = ask(site, cable)
    assert list(found.inputs.needs) == [("BUS-1", "A3"), ("NEW", "A1")]
    assert [reel.id for reel in found.problem.reels] == ["R1"]
    assert (found.problem.reels[0].length, found.problem.reels[0].whole) == (8010, False)
    assert [entry.conductor for entry in found.unmeasured] == [unmeasured]
    coming = ask(site, cable, with_coming=True)
    assert [reel.id for reel in coming.problem.reels] == ["R1", "on the way"]
    assert a3.pk == found.conductors["BUS-1 A 1000"][0].conductor.pk


def test_gathering_takes_the_same_queries_for_any_number_of_runs(site, cable, django_assert_num_queries):
    make_conductors(RunFactory(site=site, planned=date(2026, 4, 1), measured=True), 100)
    ReelFactory(site=site, feet=1000)
    with django_assert_num_queries(13):
        ask(site, cable)
    for _ in range(5):
        make_conductors(RunFactory(site=site, planned=date(2026, 4, 1), measured=True), 100)
        ReelFactory(site=site, feet=1000)
    with django_assert_num_queries(13):
        ask(site, cable)


def test_a_plan_is_stored_with_its_levels_bounds_and_proofs(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    ReelFactory(site=site, tag="R2", feet=1000)
    plan = planned(site, cable)
    assert plan.state == "proposed"
    assert shares(plan) == {"R1": [f"BUS-1 {name}" for name in ("A1", "A2", "B1", "B2", "C1", "C2")]}
    assert plan.levels == {
        "unmetWeighted": 0.0,
        "unmetFeet": 0.0,
        "scrapFeet": 0.0,
        "wholeReelsOpened": 1,
        "remnants": 0,
        "setups": 1,
    }
    assert plan.bounds.keys() == plan.levels.keys() == plan.proven.keys()
    assert plan.proven["scrapFeet"]
    assert (plan.unmet, plan.buy, plan.inputs_hash) == ([], [], gather(site, cable, QUICK).inputs.digest)
    assert plan.cuts.first().length == 100 * FT


def test_where_cable_is_short_the_plan_names_what_is_unmet_and_what_to_buy(site):
    cable = CableFactory(site=site, buy_lengths=[to_ticks(500 * FT), to_ticks(1000 * FT)])
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 300, "A1", "A2", "A3")
    ReelFactory(site=site, tag="R1", feet=700)
    plan = planned(site, cable)
    [[run, _, length]] = plan.unmet
    assert (run, length) == ("BUS-1", to_ticks(300 * FT))
    assert plan.buy == [[to_ticks(500 * FT), 1]]
    assert plan.cuts.count() == 2
    assert plan.levels["unmetFeet"] == 300


def test_solving_stores_nothing_and_knows_the_books_of_a_day(site, cable):
    a1, a2 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2")
    reel = ReelFactory(site=site, tag="R1", feet=250)
    cut(reel, taped=100, conductor=a1, at=at(5))
    answer = solve(site, cable, QUICK, as_of=date(2026, 3, 4))
    [(entry, conductors)] = answer.shares.cuts
    assert (entry.reel, [one.conductor for one in conductors]) == (reel, [a1, a2])
    [(entry, conductors)] = solve(site, cable, QUICK).shares.cuts
    assert [one.conductor for one in conductors] == [a2]
    assert not CutPlan.objects.of(site).exists()


def test_a_reel_is_cut_by_the_day_then_by_run_then_the_longest_first(site, cable):
    late, soon, undated = (RunFactory(site=site, name=name, measured=True) for name in ("BUS-1", "BUS-3", "BUS-0"))
    make_conductors(undated, 40, "A1")
    make_conductors(late, 60, "A1")
    make_conductors(soon, 30, "A1", "A2", "A10")
    make_conductors(soon, 50, "B1")
    for run, day in ((late, date(2026, 4, 2)), (soon, date(2026, 4, 1))):
        Stage.objects.create(run=run, stage="cables", planned=day)
    ReelFactory(site=site, cable=cable, tag="R1", feet=400)
    assert shares(planned(site, cable)) == {
        "R1": ["BUS-3 B1", "BUS-3 A1", "BUS-3 A2", "BUS-3 A10", "BUS-1 A1", "BUS-0 A1"]
    }


def test_what_is_on_the_way_need_not_be_bought(site):
    cable = CableFactory(site=site, buy_lengths=[to_ticks(500 * FT)])
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 300, "A1", "A2", "A3")
    ReelFactory(site=site, tag="R1", feet=300)
    ReelFactory(site=site, tag="R2", feet=700, state="on the way")
    answer = solve(site, cable, QUICK)
    assert len(answer.shares.uncut) == 2
    assert answer.shares.buy == ()
    Reel.objects.of(site).filter(tag="R2").update(length=400 * FT)
    assert solve(site, cable, QUICK).shares.buy == ((to_ticks(500 * FT), 1),)


def test_a_plan_that_was_stopped_does_not_buy_what_is_on_the_way(site):
    cable = CableFactory(site=site, buy_lengths=[to_ticks(500 * FT), to_ticks(1500 * FT)])
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 300, "A1", "A2", "A3", "A4")
    ReelFactory(site=site, tag="R1", feet=300)
    ReelFactory(site=site, tag="R2", feet=600, state="on the way")
    plan = planned(site, cable, told=lambda *_: True)
    assert (plan.stopped, len(plan.unmet)) == ("asked", 3)
    assert plan.buy == [[to_ticks(500 * FT), 1]]
    assert plan.bounds["buy"] == to_ticks(500 * FT)
    assert "buy" not in stored_as_json(plan)["bounds"], "the keys for machines are the levels"


def test_what_is_to_buy_may_be_looked_for_until_it_is_stopped(site):
    cable = CableFactory(site=site, buy_lengths=[to_ticks(500 * FT)])
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 300, "A1", "A2", "A3", "A4")
    ReelFactory(site=site, tag="R1", feet=300)
    ReelFactory(site=site, tag="R2", feet=600, state="on the way")
    heard = []
    planned(site, cable, told=lambda stage, seconds, levels: heard.append((stage, levels["unmetFeet"])))
    assert ("what to buy", 900) in heard, "of the plan itself, not of the one with what is on the way"


def test_rates_and_the_strict_order_are_kept_with_the_plan(site, cable):
    options = Options(Rates(Fraction(7), Fraction(3, 2), Fraction(0)), strict=True, with_coming=True, seconds=1.5)
    plan = ask_for_plan(site=site, cable=cable, options=options)
    plan.refresh_from_db()
    assert options_of(plan) == options


def test_an_unproven_answer_is_never_stored(site, cable, monkeypatch):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)

    def overdraws(problem, progress=None):
        answer = plan_cuts(problem, progress)
        load = answer.loads[0]
        wrong = type(load)(load.reel, load.cuts * 2, load.end, load.end_is)
        return type(answer)(**{**{n: getattr(answer, n) for n in answer.__dataclass_fields__}, "loads": (wrong,)})

    monkeypatch.setattr("reels.planner.solve.plan_cuts", overdraws)
    plan = ask_for_plan(site=site, cable=cable, options=QUICK)
    with pytest.raises(Exception, match="overdrawn"):
        run_plan(plan=plan)
    plan.refresh_from_db()
    assert plan.state == "failed"
    assert "overdrawn" in plan.trouble
    assert not PlannedCut.objects.of(site).exists()


def test_a_new_proposal_supersedes_the_one_before(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    first, second = planned(site, cable), planned(site, cable)
    first.refresh_from_db()
    assert (first.state, second.state) == ("superseded", "proposed")


def test_accepting_a_plan_supersedes_the_one_the_crew_followed(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    first = accept_plan(site=site, plan=planned(site, cable))
    second = accept_plan(site=site, plan=planned(site, cable))
    first.refresh_from_db()
    assert (first.state, second.state) == ("superseded", "accepted")
    assert list(CutPlan.objects.of(site).filter(state="accepted")) == [second]
    with pytest.raises(PlanError, match="Only a proposed plan can be accepted; this one is superseded"):
        accept_plan(site=site, plan=first)


def test_a_plan_of_another_cable_stays(site, cable):
    other = CableFactory(site=site, code="350-CU", size="350")
    kept = accept_plan(site=site, plan=planned(site, other))
    accept_plan(site=site, plan=planned(site, cable))
    kept.refresh_from_db()
    assert kept.state == "accepted"


def test_replanning_keeps_conductors_on_their_reels(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=300)
    ReelFactory(site=site, tag="R2", feet=300)
    first = accept_plan(site=site, plan=planned(site, cable))
    make_conductors(RunFactory(site=site, name="BUS-2", measured=True), 90, "A1")
    ReelFactory(site=site, tag="R3", feet=90)
    second = planned(site, cable)
    before = shares(first)
    after = shares(second)
    assert {tag: after[tag] for tag in ("R1", "R2")} == before
    assert after["R3"] == ["BUS-2 A1"]


def test_a_plan_given_up_while_it_was_worked_out_is_not_stored(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    plan = ask_for_plan(site=site, cable=cable, options=QUICK)

    def give_up(*_):
        cancel_plan(site=site, plan=plan)

    assert run_plan(plan=plan, told=give_up_once(give_up)).state == "cancelled"
    assert not PlannedCut.objects.of(site).exists()


def give_up_once(act):
    done = []

    def told(*args):
        if not done:
            done.append(True)
            act(*args)

    return told


def test_asking_again_gives_up_the_plan_that_is_still_worked_out(site, cable):
    first = ask_for_plan(site=site, cable=cable, options=QUICK)
    ask_for_plan(site=site, cable=cable, options=QUICK)
    first.refresh_from_db()
    assert (first.state, first.stop_asked) == ("cancelled", True)


def test_a_plan_that_is_stopped_keeps_the_best_so_far_labelled_so(site, cable):
    for number in range(6):
        make_conductors(RunFactory(site=site, name=f"BUS-{number}", measured=True), 37 + 11 * number)
    for number in range(8):
        ReelFactory(site=site, tag=f"R{number}", feet=200 + 17 * number)
    plan = ask_for_plan(site=site, cable=cable, options=Options(seconds=20))
    stop_plan(site=site, plan=plan)
    plan = run_plan(plan=plan)
    assert (plan.state, plan.stopped) == ("proposed", "asked")
    assert plan.cuts.exists()


def test_progress_is_told_and_noted(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=700)
    heard = []
    plan = planned(site, cable, told=lambda stage, seconds, levels: heard.append((stage, levels)))
    assert heard[0][1]["unmetFeet"] == 0
    assert plan.progress == ""


def test_a_plan_can_be_cancelled_once(site, cable):
    plan = planned(site, cable)
    assert cancel_plan(site=site, plan=plan).state == "cancelled"
    with pytest.raises(PlanError, match="cancelled already"):
        cancel_plan(site=site, plan=plan)
