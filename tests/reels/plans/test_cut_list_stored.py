from decimal import Decimal

import pytest

from reels.ledger.queries import ledger
from reels.plans.queries import cut_list, cut_list_by_run, reel_cut_list
from reels.plans.services import accept_plan
from takeoff.units.exact import from_ticks, to_ticks
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import RunFactory
from tests.reels.makers import FT, cut, make_conductors
from tests.reels.plans.web import planned

pytestmark = pytest.mark.django_db


def test_the_crews_list_gives_marks_in_order_and_ticks_off_what_is_cut(site, cable):
    site.mark_allowance = Decimal("0.01")
    site.save()
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2")
    ReelFactory(site=site, tag="R1", outer_mark=500, inner_mark=100)
    plan = accept_plan(site=site, plan=planned(site, cable))
    [reel] = cut_list(plan)
    # 100 ÷ 0.99 is 101.01 marks: 398.99, an inch on from 399 as the marks fall; then 297.91, two inches on from 298.
    assert [(str(line.planned.conductor), mark_of(line)) for line in reel.lines] == [
        ("BUS-1 A1", (500, Decimal("398.9167"))),
        ("BUS-1 A2", (Decimal("398.9167"), Decimal("297.8333"))),
    ]
    assert reel.left == to_ticks(200 * FT)
    first = reel.lines[0].planned
    cut(first.reel, 500, 398, taped=101, conductor=first.conductor)
    [reel] = cut_list(plan)
    assert [line.made is not None for line in reel.lines] == [True, False]
    # 100 ft at 101 ft to 102 marks are 100.99 marks: 398 - 101.
    assert mark_of(reel.to_do[0]) == (398, 297)
    assert list(cut_list_by_run([reel])) == ["BUS-1"]


def mark_of(line):
    return from_ticks(line.mark.from_mark), from_ticks(line.mark.to_mark)


def test_the_crews_list_says_when_a_length_came_off_another_reel(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1")
    ReelFactory(site=site, tag="R1", feet=100)
    other = ReelFactory(site=site, tag="R2", feet=150)
    plan = accept_plan(site=site, plan=planned(site, cable))
    [line] = cut_list(plan)[0].lines
    assert line.planned.reel.tag == "R1"
    cut(other, taped=100, conductor=line.planned.conductor)
    [line] = cut_list(plan)[0].lines
    assert line.off_plan


def test_the_crews_list_takes_the_same_queries_for_any_number_of_cuts(site, cable, django_assert_num_queries):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    plan = planned(site, cable)
    books = ledger(site)
    with django_assert_num_queries(1):
        cut_list(plan, books=books)


def test_what_is_drawn_and_not_measured_waits_behind_what_may_be_cut(site, cable):
    drawn, measured = RunFactory(site=site, name="BUS-1"), RunFactory(site=site, name="BUS-2", measured=True)
    make_conductors(drawn, 60, "A1"), make_conductors(measured, 60, "A1")
    reel = ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=200)
    plan = accept_plan(site=site, plan=planned(site, cable))
    assert [line.planned.conductor.run for line in cut_list(plan)[0].lines] == [drawn, measured], "as planned"

    found = reel_cut_list(site, reel)

    assert [(line.planned.conductor.run, line.waits) for line in found.lines] == [(measured, False), (drawn, True)]
    assert ([line.planned.conductor.run for line in found.to_cut], len(found.to_do)) == ([measured], 2)
    # The reel begins with what may be cut; what waits has no mark yet, and is still counted on.
    assert mark_of(found.to_cut[0]) == (0, 60)
    assert (found.lines[1].mark, found.lines[1].dropped) == (None, False)
    assert found.left == to_ticks(80 * FT)


def test_one_reel_says_what_comes_next_and_what_the_rest_will_be(site, cable, django_assert_max_num_queries):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2")
    reel, other = (
        ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=225),
        ReelFactory(site=site, tag="R2", feet=60),
    )
    plan = accept_plan(site=site, plan=planned(site, cable))
    first, second = plan.cuts.order_by("seq")
    cut(reel, 0, 100, conductor=first.conductor)
    with django_assert_max_num_queries(23):
        found = reel_cut_list(site, reel)
    assert [line.planned for line in found.to_cut] == [second]
    assert mark_of(found.to_cut[0]) == (100, 200)
    assert (found.left, found.left_is) == (to_ticks(25 * FT), "scrap")
    assert reel_cut_list(site, other) is None
