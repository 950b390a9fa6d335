import pytest

from tests.factories.takeoff import CableFactory, SiteFactory
from tests.reels.plans.web import person


@pytest.fixture
def site():
    return SiteFactory(slug="yard", whole_reels=True)


@pytest.fixture
def cable(site):
    return CableFactory(site=site)


@pytest.fixture
def planner(site):
    return person(site, "planner")
