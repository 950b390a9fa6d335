import pytest

from tests.reels.makers import make_cable, make_site
from tests.reels.plans.web import person


@pytest.fixture
def site():
    return make_site("yard")


@pytest.fixture
def cable(site):
    return make_cable(site)


@pytest.fixture
def planner(site):
    return person(site, "planner")
