from decimal import Decimal

import pytest

from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.services import publish, refresh_takeoffs
from takeoff.runs.services import derive_conductors
from tests.factories.takeoff import (
    CableFactory,
    ItemFactory,
    RunEndFactory,
    RunFactory,
    SectionFactory,
    SiteFactory,
    SupplierFactory,
    member,
)


@pytest.fixture
def site(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    site = SiteFactory(slug="here", name="Here", timezone="America/Chicago")
    supplier = SupplierFactory(site=site, name="S & Sons", lead_time_days=3)
    ItemFactory(site=site, code="CAP", description="End cap", supplier=supplier, unit_cost=250, pack=10)
    ItemFactory(site=site, code="TAPE", description="Tape", group="tape")
    cable = CableFactory(site=site, code="C500", diameter=25)
    run = RunFactory(site=site, name="CB-1", from_equipment="T1", to_equipment="SG-1", cables_per_phase=1, cable=cable)
    SectionFactory(run=run, length=Decimal("3048"))
    for end in ("from", "to"):
        RunEndFactory(run=run, end=end)
    derive_conductors(site=site, runs=[run])
    rows = [RuleRow("caps", "CAP", "cables", "conductor end", "each", 10_000, "common practice")]
    publish(site=site, rows=rows)
    refresh_takeoffs(site=site)
    return site


@pytest.fixture
def enter(client, site):
    """Sign in with roles on the site and get the client back."""

    def signed_in(*roles: str):
        user = member(site, *roles, username="-".join(roles))
        client.force_login(user)
        return client

    return signed_in
