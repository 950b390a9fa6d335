import pytest

from takeoff.models import Site
from tests.factories.takeoff import ItemFactory, SiteFactory
from tests.kits.makers import stocked


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def tape(site):
    item = ItemFactory(site=site, code="TAPE", unit="roll", usage="wiped")
    stocked(item, 100)
    return item
