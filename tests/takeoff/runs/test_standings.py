"""Whether a run's cable may be cut: measured, or cut to the drawing; the latest choice rules."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import DatabaseError, transaction

from takeoff.models import LengthChoice, Section
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import OtherContentError, RecordError
from takeoff.runs.queries import length_standings
from tests.factories.takeoff import MeasurementFactory, RunFactory, SectionFactory, SiteFactory

pytestmark = pytest.mark.django_db
MORNING = datetime(2026, 3, 2, 8, tzinfo=UTC)


@pytest.fixture
def site():
    return SiteFactory(slug="here", name="Here")


@pytest.fixture
def run(site):
    run = RunFactory(site=site, name="CB-1", cables_per_phase=1)
    for seq in (1, 2):
        SectionFactory(run=run, seq=seq, length=1000)
    return run


def measure(run, seq=None, hours=0):
    MeasurementFactory(run=run, section_seq=seq, length=1000, at=MORNING + timedelta(hours=hours))


def choose(site, run, event_id, way="drawing", hours=0, reason="set out"):
    row = {"id": event_id, "run": run, "way": way, "reason": reason, "at": MORNING + timedelta(hours=hours)}
    return keep_one(site=site, kind="length_choices", row=row)


def may_be_cut(site, run):
    return length_standings(site, {run.pk})[run.pk].may_be_cut


def test_a_run_is_measured_as_a_whole_or_in_every_section(site, run):
    assert not may_be_cut(site, run)
    measure(run, seq=1)
    assert not may_be_cut(site, run)
    measure(run, seq=2)
    assert may_be_cut(site, run)


def test_a_section_measured_again_leaves_the_others_to_the_drawing(site, run):
    measure(run)
    assert may_be_cut(site, run)
    measure(run, seq=1, hours=1)
    assert not may_be_cut(site, run)


def test_a_run_without_sections_is_not_measured_by_that(site, run):
    Section.objects.of(site).delete()
    assert not may_be_cut(site, run)


def test_the_latest_choice_rules_whatever_was_sent_first(site, run):
    choose(site, run, "back", "measure", hours=2)
    assert not may_be_cut(site, run)
    choose(site, run, "late record", "drawing", hours=1)
    assert not may_be_cut(site, run)
    choose(site, run, "again", "drawing", hours=3)
    assert may_be_cut(site, run)


def test_sent_twice_it_is_kept_once_and_another_content_is_refused(site, run):
    assert choose(site, run, "one") == choose(site, run, "one")
    with pytest.raises(OtherContentError):
        choose(site, run, "one", reason="other")
    with pytest.raises(RecordError):
        choose(site, run, "two", reason="  ")
    assert LengthChoice.objects.of(site).count() == 1


def test_a_choice_that_is_taken_back_leaves_the_one_before_it(site, run):
    choose(site, run, "one", "measure")
    choose(site, run, "two", "drawing", hours=1)
    assert may_be_cut(site, run)
    row = {"id": "back", "reverses": "two", "reason": "another run was meant", "at": MORNING + timedelta(hours=2)}
    keep_one(site=site, kind="reversals", row=row)
    standing = length_standings(site, {run.pk})[run.pk]
    assert (standing.may_be_cut, standing.choice.event_id) == (False, "one")
    assert LengthChoice.objects.of(site).count() == 3, "all of it stays recorded"


def test_the_same_id_serves_another_site(site, run):
    other = SiteFactory(slug="there", name="There")
    there = RunFactory(site=other, name="CB-1", cables_per_phase=1)
    choose(site, run, "one")
    choose(other, there, "one", "measure")
    assert may_be_cut(site, run)


def test_a_choice_is_never_changed_or_deleted(site, run):
    choose(site, run, "one")
    for act in (lambda rows: rows.update(way="measure"), lambda rows: rows.delete()):
        with pytest.raises(DatabaseError, match="choose again"), transaction.atomic():
            act(LengthChoice.objects.of(site))


def test_any_number_of_runs_is_read_in_three_queries(site, run, django_assert_num_queries):
    measure(run, seq=1)
    with django_assert_num_queries(3):
        assert list(length_standings(site, {run.pk})) == [run.pk]
