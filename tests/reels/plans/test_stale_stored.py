from datetime import date
from decimal import Decimal

import pytest

from reels.models import CutPlan, Reel
from reels.plans.queries import staleness
from reels.plans.services import PlanError, accept_plan
from takeoff.models import Conductor, Stage
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import MeasurementFactory, RunFactory
from tests.reels.makers import FT, at, cut, make_conductors
from tests.reels.plans.web import planned

pytestmark = pytest.mark.django_db


def said(plan):
    return [str(change) for change in staleness(plan).changes]


@pytest.fixture
def followed(site, cable):
    run = RunFactory(site=site, name="BUS-1", planned=date(2026, 4, 1), measured=True)
    make_conductors(run, 100, "A1", "A2", "B1")
    ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=310)
    return accept_plan(site=site, plan=planned(site, cable))


def test_a_fresh_plan_is_not_stale(followed):
    assert not staleness(followed).is_stale
    assert staleness(followed).followable


def test_a_cut_as_planned_is_told_and_the_rest_can_be_followed(site, followed):
    first = followed.cuts.order_by("seq").first()
    cut(first.reel, 0, 101, conductor=first.conductor)
    found = staleness(followed)
    assert [str(change) for change in found.changes] == [f"{first.conductor} was cut off R1, as planned."]
    assert (found.is_stale, found.off_plan, found.followable) == (True, (), True)


def test_a_cut_beside_the_plan_makes_it_stale_and_perhaps_impossible(site, followed):
    cut(followed.cuts.first().reel, 0, 20, event_id="C-9")
    found = staleness(followed)
    assert [str(change) for change in found.off_plan] == ["Cut C-9 was recorded on R1."]
    assert not found.followable


def test_a_new_reel_an_as_built_length_and_a_need_make_it_stale(site, cable, followed):
    ReelFactory(site=site, tag="R2", feet=100)
    run = followed.cuts.first().conductor.run
    MeasurementFactory(run=run, length=101 * FT, at=at(5))
    Conductor.objects.of(site).update(length=101 * FT)
    Stage.objects.of(site).update(planned=date(2026, 4, 2))
    assert said(followed) == [
        "Reel R2 came.",
        "The as-built length of BUS-1 changed.",
        "BUS-1 A1, A2, B1 need 101' 0\", not 100' 0\".",
        "The cables of BUS-1 are planned for 2026-04-02.",
    ]


def test_a_changed_need_is_told_as_a_tape_shows_it(site, cable, followed):
    Conductor.objects.of(site).update(length=Decimal("54717.5"))  # 179.519… ft
    Reel.objects.of(site).update(length=Decimal("91234.5678"))
    assert "BUS-1 A1, A2, B1 need 179' 6 1/4\", not 100' 0\"." in said(followed)
    Conductor.objects.of(site).update(length=100 * FT + Decimal("0.01"))
    assert "BUS-1 A1, A2, B1 need 100' 0 1/16\", not 100' 0\"." in said(followed)


def test_a_setting_of_the_site_makes_it_stale(site, cable, followed):
    site.keep_length = 20 * FT
    site.save()
    assert said(CutPlan.objects.of(site).get(pk=followed.pk)) == ["The setting keep length changed."]


def test_a_stale_proposal_is_accepted_only_knowingly_and_while_it_can_be_cut(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2")
    reel = ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=250)
    plan = planned(site, cable)
    cut(reel, 0, 20, event_id="C-1")
    with pytest.raises(PlanError, match="Plan again: Cut C-1 was recorded on R1") as caught:
        accept_plan(site=site, plan=plan)
    assert caught.value.code == "stale"
    assert accept_plan(site=site, plan=plan, though_stale=True).state == "accepted"
    again = planned(site, cable)
    cut(reel, 20, 60)
    with pytest.raises(PlanError, match="Plan again"):
        accept_plan(site=site, plan=again, though_stale=True)
