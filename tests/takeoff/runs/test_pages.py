"""The list of runs tells the same lengths as a run's own page."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from takeoff.models import Site
from takeoff.runs.pages import run_list
from takeoff.runs.queries import run_facts, runs_with_parts
from takeoff.units.exact import to_ticks
from tests.factories.takeoff import MeasurementFactory, RunFactory, SectionFactory, SiteFactory

START = datetime(2026, 3, 1, tzinfo=UTC)
# The hour, which section (None: the whole run), and the length in millimetres.
MEASURED = st.lists(
    st.tuples(st.integers(0, 3), st.sampled_from([None, 1, 2, 3]), st.integers(500, 5000)), min_size=0, max_size=6
)


@pytest.mark.django_db
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(MEASURED)
def test_the_length_as_built_is_that_of_the_latest_measurements(db, measured):
    site = SiteFactory(slug=f"built-{Site.objects.count()}", name="built")
    run = RunFactory(site=site, name="R", cables_per_phase=1)
    for seq in (1, 2, 3):
        SectionFactory(run=run, seq=seq, length=1000 * seq)
    for hour, seq, length in measured:
        MeasurementFactory(run=run, section_seq=seq, length=Decimal(length), at=START + timedelta(hours=hour))

    row = run_list(site).get()

    assert row.drawn == 6000
    expected = run_facts(runs_with_parts(site).get()).centre_line
    assert (None if row.built is None else to_ticks(row.built)) == (expected if measured else None)
