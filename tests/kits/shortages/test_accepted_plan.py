"""The page of a cut plan and the reconciliation say alike whether an accepted plan still holds."""

from decimal import Decimal

import pytest

from kits.shortages.queries import reconcile
from reels.planner.options import Options
from reels.plans.queries import staleness
from reels.plans.services import accept_plan, ask_for_plan, run_plan
from takeoff.models import Conductor, Run
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import ConductorFactory
from tests.kits.shortages.scene import AS_OF, Scene

pytestmark = pytest.mark.django_db
HUNDRED = 30_480  # ft, in mm


def reel(scene, tag, feet):
    return ReelFactory(site=scene.site, tag=tag, cable=scene.cable, length=Decimal(feet * HUNDRED) / 100)


@pytest.fixture
def scene():
    scene = Scene(safety_tail=0)
    run = scene.run()
    for name in ("A1", "B1"):
        ConductorFactory(run=run, name=name, cable=scene.cable, length=HUNDRED)
    reel(scene, "R-1", 230)
    return scene


def accepted(scene):
    asked = ask_for_plan(site=scene.site, cable=scene.cable, options=Options(seconds=2))
    return accept_plan(site=scene.site, plan=run_plan(plan=asked))


def told(plan):
    """Say what the page tells of a plan, and what the reconciliation goes by."""
    plan = type(plan).objects.of(plan.site).get(pk=plan.pk)
    found = staleness(plan)
    (line,) = reconcile(plan.site, AS_OF).cables
    return found.is_stale, found.followable, line.method == "accepted cut plan"


def test_a_plan_from_today_holds_and_is_proven(scene):
    plan = accepted(scene)

    assert told(plan) == (False, True, True)
    (line,) = reconcile(scene.site, AS_OF).cables
    assert (line.proven, line.gap) == (True, 0)


def test_a_plan_is_followed_though_a_reel_has_come(scene):
    plan = accepted(scene)
    reel(scene, "R-2", 500)

    assert told(plan) == (True, True, True)


def test_a_plan_is_followed_though_another_keep_length_was_set(scene):
    plan = accepted(scene)
    scene.site.keep_length = 3_048
    scene.site.save()

    assert told(plan) == (True, True, True)


def test_a_plan_is_followed_though_lengths_grew_while_its_reels_hold_them(scene):
    plan = accepted(scene)
    Conductor.objects.of(scene.site).update(length=HUNDRED + 3_048)

    assert told(plan) == (True, True, True)


def test_a_plan_is_not_followed_once_a_reel_does_not_hold_its_share(scene):
    plan = accepted(scene)
    Conductor.objects.of(scene.site).update(length=HUNDRED + 5_000)

    assert told(plan) == (True, False, False)


def test_what_is_followed_though_something_changed_is_proven_no_more(scene):
    accepted(scene)
    reel(scene, "R-2", 500)

    (line,) = reconcile(scene.site, AS_OF).cables
    assert (line.method, line.proven, line.bound, line.gap) == ("accepted cut plan", False, None, None)


def test_what_a_followed_plan_left_uncut_is_tried_again_on_a_reel_that_came(scene):
    ConductorFactory(run=Run.objects.of(scene.site).get(), name="C1", cable=scene.cable, length=HUNDRED)
    plan = accepted(scene)
    assert [u.conductor for u in reconcile(scene.site, AS_OF).cables[0].unmet] == [plan.unmet[0][1]]
    reel(scene, "R-2", 500)

    assert staleness(plan).followable
    assert reconcile(scene.site, AS_OF).cables[0].unmet == ()
