"""A load that makes an accepted cut plan wrong is asked about."""

from copy import deepcopy

import pytest

from reels.planner.options import Options
from reels.plans.queries import cables_to_plan
from reels.plans.services import accept_plan, ask_for_plan, run_plan
from takeoff.models import Conductor, Site
from tests.takeoff.sheets.books import PACKAGE, RUNS, load, told

pytestmark = pytest.mark.django_db

REELS = [["reel", "cable", "length"], ["R-1", "C500", "900 ft"], ["R-2", "G4/0", "300 ft"]]


@pytest.fixture(autouse=True)
def accepted():
    assert told(load({**PACKAGE, "reels": REELS})) == []
    site = Site.objects.get()
    for cable in cables_to_plan(site):
        plan = run_plan(plan=ask_for_plan(site=site, cable=cable, options=Options(seconds=1.0)))
        assert not plan.unmet
        accept_plan(site=site, plan=plan)
    return site


def test_other_lengths_than_an_accepted_plan_has_are_asked_about():
    sections = [["run", "seq", "kind", "length"], ["R-102", 1, "straight", "22 ft"]]

    result = load({"sections": sections}, confirmed=False)

    assert not result.loaded
    assert [str(caution) for caution in result.asked] == [
        "R-102 - the accepted cut plan of C500 has A1, B1, C1 as they were; plan again after this",
        "R-102 - the accepted cut plan of G4/0 has G1 as they were; plan again after this",
    ]
    assert result.effects.touched == [
        "Accepted cut plan of C500: 3 lengths of R-102.",
        "Accepted cut plan of G4/0: 1 length of R-102.",
    ]


def test_conductors_that_an_accepted_plan_cuts_are_not_taken_away_unasked():
    fewer = deepcopy(RUNS["runs"])
    fewer[1][5] = 1
    result = load({"runs": fewer[:2]}, confirmed=False)
    assert "R-101 - the accepted cut plan of C500 has A2, B2, C2 as they were; plan again after this" in [
        str(caution) for caution in result.asked
    ]
    assert Conductor.objects.filter(run__name="R-101").count() == 7, "nothing was kept"


def test_what_leaves_the_lengths_alone_touches_no_plan():
    result = load({"stages": [["run", "stage", "planned"], ["R-102", "cables", "2026-05-01"]]}, confirmed=False)
    assert (result.loaded, result.effects.touched) == (True, [])
