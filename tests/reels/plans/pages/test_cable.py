"""The first page of cut plans: a row for each cable."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from reels.plans.services import accept_plan
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, RunFactory
from tests.reels.makers import cut, make_conductors
from tests.reels.plans.web import planned, text_of, url

pytestmark = pytest.mark.django_db


def test_the_first_page_lists_cables_with_what_is_needed_and_what_is_there(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=1000)
    ReelFactory(site=site, tag="R2", feet=400, state="on the way")
    CableFactory(site=site, code="UNUSED", size="350")
    said = text_of(planner.get(url("cut_plan", site)))
    assert "500-CU 600' 0\" 6 lengths 1 000' 0\" 1 reel 400' 0\" none yet" in said
    assert "UNUSED" not in said


def test_the_first_page_tells_a_plan_that_something_changed_since(site, cable, planner):
    first, *_ = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    reel = ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=450)
    page = url("cut_plan", site)
    accept_plan(site=site, plan=planned(site, cable))
    assert text_of(planner.get(page)).count("accepted 2 find no reel") == 1
    cut(reel, 0, 100, conductor=first)
    assert "accepted 2 find no reel" in text_of(planner.get(page)), "a cut as planned changes nothing"
    ReelFactory(site=site, tag="R2", feet=300)
    said = text_of(planner.get(page))
    assert "accepted changed since" in said
    assert "find no reel" not in said, "what was counted then does not hold now"
    cut(reel, 100, 400)
    said = text_of(planner.get(page))
    assert "accepted plan again" in said
    assert "find no reel" not in said


def test_the_first_page_asks_as_much_for_12_cables_as_for_2(site, planner):
    asked = []
    for cables in (2, 12):
        for number in range(cables):
            cable = CableFactory(site=site, code=f"CABLE-{cables}-{number}")
            make_conductors(RunFactory(site=site, cable=cable, measured=True), 100, "A1", "A2")
            ReelFactory(site=site, feet=300, cable=cable)
            accept_plan(site=site, plan=planned(site, cable))
        planner.get(url("cut_plan", site))
        with CaptureQueriesContext(connection) as queries:
            assert text_of(planner.get(url("cut_plan", site))).count("accepted") >= cables
        asked.append(len(queries))
    assert asked[0] == asked[1]
