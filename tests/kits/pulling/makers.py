"""Runs with a plan, told for tests in one line."""

from kits.pulling.bundle import at_the_reels
from kits.pulling.pages import find_run
from reels.models import CutPlan
from takeoff.models import Conductor, Measurement
from tests.factories.reels import CutPlanFactory, PlannedCutFactory
from tests.factories.takeoff import RunFactory
from tests.reels.makers import at, make_conductors


def a_run(site, cable, name):
    found = RunFactory(site=site, name=name, cable=cable)
    make_conductors(found, "187.5", "A1", "A2", "A3", "B1")
    Conductor.objects.filter(run=found).update(cable=cable)
    Measurement.objects.create(run=found, length=50_000, at=at(1))
    return found


def planned(cable, reel, run, *names):
    plan = CutPlan.objects.filter(cable=cable).first() or CutPlanFactory(cable=cable, state=CutPlan.State.ACCEPTED)
    after = plan.cuts.filter(reel=reel).count()
    for seq, name in enumerate(names, after + 1):
        PlannedCutFactory(plan=plan, reel=reel, seq=seq, conductor=Conductor.objects.get(run=run, name=name))


def stand_of(site, run):
    return at_the_reels(site, find_run(site, run.pk))


def wanted(run, name):
    return Conductor.objects.get(run=run, name=name)
