import pytest

from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, RunFactory, SiteFactory
from tests.reels.makers import make_conductors
from tests.reels.plans.web import person


@pytest.fixture
def site():
    """Marks may be 1 % off, a reading is half a foot, crews read whole inches."""
    return SiteFactory(slug="yard", safety_tail=0)


@pytest.fixture
def cable(site):
    return CableFactory(site=site)


@pytest.fixture
def reel(site, cable):
    """1000 ft, its marks climbing toward the core."""
    return ReelFactory(site=site, cable=cable, tag="R-101", outer_mark=1250, inner_mark=2250)


@pytest.fixture
def conductors(site, cable):
    """Four of one set of a measured run, 187 ft 6 in each."""
    run = RunFactory(site=site, name="CB-03", measured=True)
    return make_conductors(run, "187.5", "A1", "A2", "A3", "A4", least=187)


@pytest.fixture
def foreman(site):
    return person(site, "foreman")


@pytest.fixture
def planner(site):
    return person(site, "planner")
