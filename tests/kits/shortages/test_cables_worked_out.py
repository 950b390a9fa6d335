"""A cable that no stored plan fits is planned for the reconciliation, and nothing of it is stored."""

import json
from io import StringIO

import pytest
from django.core.management import call_command

from kits.shortages.queries import reconcile
from reels.models import CutPlan, Reel
from reels.planner.options import Options
from reels.plans.services import accept_plan, ask_for_plan, run_plan
from takeoff.models import Conductor
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import ConductorFactory
from tests.kits.shortages.scene import AS_OF, Scene

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    """Two reels of 91.44 m for lengths that fill both: 36.576 + 36.576 + 18.288 m, and three of 30.48 m."""
    scene = Scene(safety_tail=0)
    run = scene.run()
    lengths = {"A1": 36_576, "A2": 36_576, "B1": 30_480, "B2": 30_480, "B3": 30_480, "C1": 18_288}
    for name, length in lengths.items():
        ConductorFactory(run=run, name=name, cable=scene.cable, length=length)
    for tag in ("R-1", "R-2"):
        ReelFactory(site=scene.site, tag=tag, cable=scene.cable, length=91_440)
    return scene


def test_the_line_is_that_of_a_plan_and_nothing_is_stored(scene):
    (line,) = reconcile(scene.site, AS_OF, seconds_per_cable=2).cables
    assert line.method == "cut plan worked out now"
    assert (line.unmet, line.buy, line.scrap, line.remnants) == ((), (), 0, 0)
    assert line.bound is not None
    assert line.gap is not None
    assert not CutPlan.objects.of(scene.site).exists()


def test_pages_plan_within_what_they_may_wait(scene):
    (line,) = reconcile(scene.site, AS_OF).cables
    assert (line.method, line.unmet) == ("cut plan worked out now", ())


def test_an_accepted_plan_that_no_longer_fits_is_kept_to_as_far_as_it_can_be(scene):
    plan = run_plan(plan=ask_for_plan(site=scene.site, cable=scene.cable, options=Options(seconds=2)))
    accept_plan(site=scene.site, plan=plan)
    Conductor.objects.of(scene.site).filter(name="C1").update(length=20_000)
    ReelFactory(site=scene.site, tag="R-3", cable=scene.cable, length=21_000)
    (line,) = reconcile(scene.site, AS_OF).cables
    assert (line.method, line.unmet) == ("cut plan worked out now", ())


def test_what_no_reel_holds_is_unmet(scene):
    Reel.objects.of(scene.site).filter(tag="R-2").delete()
    (line,) = reconcile(scene.site, AS_OF, seconds_per_cable=2).cables
    assert sum(unmet.length for unmet in line.unmet) == 10_000 * 91_440
    assert line.method == "cut plan worked out now"


def test_the_command_plans(scene):
    out = StringIO()
    call_command("reconcile", "--site", scene.site.slug, "--json", stdout=out)
    (cable,) = json.loads(out.getvalue())["cables"]
    assert (cable["unmet"], cable["scrap"], cable["remnants"]) == ([], 0, 0)


def test_a_cable_with_nothing_left_to_cut_is_not_planned(scene):
    Conductor.objects.of(scene.site).update(length=0)
    (line,) = reconcile(scene.site, AS_OF, seconds_per_cable=2).cables
    assert (line.method, line.scrap, line.bound) == ("nothing to plan", None, None)
