from decimal import Decimal

import pytest

from takeoff.models import Cable, Item, Member, Run, Section, Site, Supplier, User
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.services import publish, refresh_takeoffs
from takeoff.runs.services import derive_conductors


@pytest.fixture
def site(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    site = Site.objects.create(slug="here", name="Here", timezone="America/Chicago")
    supplier = Supplier.objects.create(site=site, name="S & Sons", lead_time_days=3)
    Item.objects.create(site=site, code="CAP", description="End cap", supplier=supplier, unit_cost=250, pack=10)
    Item.objects.create(site=site, code="TAPE", description="Tape", group="tape")
    cable = Cable.objects.create(site=site, code="C500", size="500", material="Cu", diameter=25)
    run = Run.objects.create(
        site=site, name="CB-1", from_equipment="T1", to_equipment="SG-1", tiers=1, phases=3, cables_per_phase=1,
        cable=cable, voltage_class="LV", ground_cables=0,
    )  # fmt: skip
    Section.objects.create(run=run, seq=1, kind="straight", length=Decimal("3048"))
    derive_conductors(site=site, runs=[run])
    rows = [RuleRow("caps", "CAP", "cables", "conductor end", "each", 10_000, "common practice")]
    publish(site=site, rows=rows)
    refresh_takeoffs(site=site)
    return site


@pytest.fixture
def enter(client, site):
    """Sign in with roles on the site and get the client back."""

    def signed_in(*roles: str):
        user = User.objects.create(username="-".join(roles))
        for role in roles:
            Member.objects.create(site=site, user=user, role=role)
        client.force_login(user)
        return client

    return signed_in
