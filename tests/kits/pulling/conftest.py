import pytest

from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, SiteFactory
from tests.kits.pulling.makers import a_run


@pytest.fixture
def site():
    return SiteFactory(slug="here")


@pytest.fixture
def cable(site):
    return CableFactory(site=site, code="C500", unit_cost=98_765)


@pytest.fixture
def run(site, cable):
    return a_run(site, cable, "CB-1")


@pytest.fixture
def reel(site, cable):
    return ReelFactory(site=site, cable=cable, tag="R-1", outer_mark=1250, inner_mark=2250)
