"""Two people at the plans of one cable."""

from functools import partial

import pytest

from reels.models import CutPlan
from reels.planner.options import Options
from reels.plans import services
from reels.plans.services import PlanError, accept_plan, ask_for_plan, run_plan
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, RunFactory, SiteFactory
from tests.races.together import at_once, meeting
from tests.reels.makers import make_conductors

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cable():
    site = SiteFactory(whole_reels=True)
    make_conductors(RunFactory(site=site, measured=True), 100, "A1", "A2")
    ReelFactory(site=site, tag="R", outer_mark=0, inner_mark=500)
    return CableFactory(site=site)


def proposed(cable, **options) -> CutPlan:
    return run_plan(plan=ask_for_plan(site=cable.site, cable=cable, options=Options(seconds=0.3, **options)))


def states(cable) -> list[str]:
    return sorted(CutPlan.objects.of(cable.site).values_list("state", flat=True))


def test_of_two_proposals_accepted_at_once_one_is_followed(cable, monkeypatch):
    plans = [proposed(cable), proposed(cable, strict=True)]
    monkeypatch.setattr(services, "staleness", meeting(services.staleness))
    results = at_once(*(partial(accept_plan, site=cable.site, plan=plan) for plan in plans))
    assert sorted(type(result).__name__ for result in results) == ["CutPlan", "PlanError"]
    [late] = [result for result in results if isinstance(result, PlanError)]
    assert late.code == "not_proposed"
    assert states(cable) == ["accepted", "superseded"]


def test_of_two_plans_asked_for_at_once_one_is_worked_out(cable, monkeypatch):
    monkeypatch.setattr(services.timezone, "now", meeting(services.timezone.now))
    at_once(*[partial(ask_for_plan, site=cable.site, cable=cable, options=Options(seconds=0.3))] * 2)
    assert states(cable) == ["cancelled", "planning"]
