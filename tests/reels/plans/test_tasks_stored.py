import pytest
from django.core.management import call_command
from django_tasks_db.models import DBTaskResult

from reels.models import CutPlan
from reels.planner.options import Options
from reels.plans.services import cancel_plan
from reels.plans.tasks import plan_in_background, work_out
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, RunFactory, SiteFactory
from tests.reels.makers import make_conductors

pytestmark = pytest.mark.django_db
QUICK = Options(seconds=2.0)


@pytest.fixture
def site():
    site = SiteFactory(whole_reels=True)
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    return site


def test_a_plan_asked_for_in_the_background_waits_for_a_worker(site):
    plan = plan_in_background(site=site, cable=CableFactory(site=site), options=QUICK)
    assert plan.state == "planning"
    [waiting] = DBTaskResult.objects.all()
    assert waiting.args_kwargs == {"args": [site.pk, plan.pk], "kwargs": {}}


@pytest.mark.django_db(transaction=True)
def test_a_worker_works_the_plan_out(site):
    plan = plan_in_background(site=site, cable=CableFactory(site=site), options=QUICK)
    call_command("db_worker", batch=True, interval=0, startup_delay=False, verbosity=0)
    plan.refresh_from_db()
    assert (plan.state, plan.cuts.count()) == ("proposed", 6)


def test_a_plan_that_was_given_up_is_not_worked_out(site):
    plan = plan_in_background(site=site, cable=CableFactory(site=site), options=QUICK)
    cancel_plan(site=site, plan=plan)
    assert work_out.call(site.pk, plan.pk) == "cancelled"
    assert not CutPlan.objects.of(site).get().cuts.exists()
