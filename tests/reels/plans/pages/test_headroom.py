"""Headroom on the web: by how much a run may turn out longer."""

import re
from decimal import Decimal

import pytest

from reels.plans.services import accept_plan
from tests.factories.reels import CutPlanFactory, ReelFactory
from tests.factories.takeoff import RunFactory
from tests.reels.makers import cut, make_conductors
from tests.reels.plans.web import planned, text_of, url

pytestmark = pytest.mark.django_db


def test_headroom_is_a_number_for_each_run_with_what_stops_it(site, cable, planner):
    make_conductors(RunFactory(site=site, name="TIGHT", measured=True), 100, "A1", "A2")
    make_conductors(RunFactory(site=site, name="SLACK", slack=Decimal("0.25"), measured=True), 100, "A1", "A2")
    ReelFactory(site=site, tag="R1", feet=410)
    planned(site, cable)
    said = text_of(planner.get(url("headroom", site, cable.pk)))
    # 10 ft are over: 5 ft for each of two cuts, 2.5 ft for each of four. A slack of 25 % takes a fifth of it.
    assert re.search(r"all at once: 2' 6\" longer each", said)
    assert re.search(r"SLACK 4' 0\" 4' 0\" 2", said)
    assert re.search(r"TIGHT 5' 0\" 5' 0\" 2", said)
    assert said.index("SLACK") < said.index("TIGHT"), "the least first"
    assert "all reels together hold no more" in said


def test_looking_harder_moves_cuts_of_other_runs_as_well(site, cable, planner):
    (a1,) = make_conductors(RunFactory(site=site, name="A-RUN", measured=True), 100, "A1")
    (b1,) = make_conductors(RunFactory(site=site, name="B-RUN", measured=True), 100, "A1")
    plan = CutPlanFactory(site=site, cable=cable)
    both, spare = ReelFactory(site=site, tag="R1", feet=210), ReelFactory(site=site, tag="R2", feet=105)
    for seq, conductor in enumerate((a1, b1), 1):
        plan.cuts.create(reel=both, seq=seq, conductor=conductor, length=conductor.length)
    page = url("headroom", site, cable.pk)
    # Alone, A-RUN gets 10 ft beside B-RUN on R1; once B-RUN moves to R2, all 210 ft are its own.
    said = text_of(planner.get(page))
    assert "A-RUN 10' 0\" 110' 0\" 1 reel R1 runs out first Look for more" in said
    said = text_of(planner.get(page, {"run": "A-RUN"}))
    assert "A-RUN 110' 0\" 110' 0\" 1 one piece takes all of the longest reel" in said
    assert "other cuts moved as far as that helps" in said
    assert planner.get(page, {"run": "no such run"}).content.decode().count('href="?run=') == 2
    assert spare.planned_cuts.count() == 0, "looking changes no plan"


def test_headroom_of_a_plan_that_no_longer_fits_says_so(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2")
    reel = ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=210)
    accept_plan(site=site, plan=planned(site, cable))
    cut(reel, 0, 50)
    assert "no longer fits: R1" in text_of(planner.get(url("headroom", site, cable.pk)))
    assert "can no longer be cut as it stands" in text_of(planner.get(url("cut_plan_cable", site, cable.pk)))
