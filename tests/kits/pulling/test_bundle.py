"""What a phone keeps of a run, and the stand that shows the same."""

import gzip
import json
from datetime import timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from reels.models import Cut, Reel
from takeoff.models import Measurement
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, SiteFactory, member
from tests.kits.pulling.makers import a_run, planned, stand_of, wanted
from tests.reels.makers import at, cut

pytestmark = pytest.mark.django_db


def test_a_column_tells_the_next_cut_and_what_is_left_after_it(site, cable, run, reel):
    """Worked: 187 ft 6 in taped on 188.9 marks; factor 0.9926. The next begins at 1438.9, 188.9 marks on: 1627.8."""
    planned(cable, reel, run, "A1", "A2", "B1")
    (column,) = stand_of(site, run).columns
    assert (column.told.by_tape, column.begins, len(column.conductors)) == (True, "1250 ft", 3)
    cut(reel, 1250, "1438.9", taped="187.5", conductor=wanted(run, "A1"))
    (column,) = stand_of(site, run).columns
    assert (column.told.by_tape, column.told.at) == (False, 16_278_333)
    assert [one.conductor.name for one in column.conductors] == ["A2", "B1"]
    cut(reel, "1438.9", "1627.8", conductor=wanted(run, "A2"))
    (column,) = stand_of(site, run).columns
    assert column.told.by_tape, "the first of its set off this reel"


def test_a_set_that_nobody_taped_keeps_the_allowance_whatever_factor_comes_of_another(site, cable, run, reel):
    """187.5 ft by marks 1 % too long are 189.39 marks; told up to the next inch."""
    planned(cable, reel, run, "A1", "A2", "B1")
    cut(reel, 1250, "1439.5", conductor=wanted(run, "A1"))
    (column,) = stand_of(site, run).columns
    assert (column.told.by_tape, column.at) == (False, "1628 ft + 11 in")
    other = a_run(site, cable, "CB-2")
    cut(reel, "1439.5", "1628.4", taped="187.5", conductor=wanted(other, "A1"))
    (column,) = stand_of(site, run).columns
    assert (column.told.by_tape, column.at) == (False, "1817 ft + 10 in"), "not 1817 + 3, by the factor"


def test_before_the_cut_stands_the_worst_to_know(site, cable, run, reel):
    planned(cable, reel, run, "A1")
    stand = stand_of(site, run)
    assert [column.line for column in stand.columns] == [""]
    Measurement.objects.all().delete()
    assert [column.line for column in stand_of(site, run).columns] == ["CB-1 is drawn, not measured: do not cut."]
    Reel.objects.update(state="held")
    assert [column.line for column in stand_of(site, run).columns] == ["R-1 is said to be on hold."]


def test_a_reel_that_another_run_counts_on_says_so_and_a_shorter_one_is_named(site, cable, run, reel):
    other = a_run(site, cable, "CB-2")
    tight = ReelFactory(site=site, cable=cable, tag="R-2", outer_mark=0, inner_mark=250)
    planned(cable, tight, other, "A1")
    ReelFactory(site=site, cable=cable, tag="R-3", outer_mark=0, inner_mark=220)
    lines = {one["tag"]: one["line"] for one in stand_of(site, run).as_json["reels"]}
    assert lines == {
        "R-1": "A shorter reel would do: R-3.",
        "R-2": "Then CB-2 A1 lacks a reel: 187' 6\".",
        "R-3": "",
    }


def test_the_bundle_is_asked_for_once_and_holds_no_prices(site, cable, run, reel, client):
    planned(cable, reel, run, "A1")
    client.force_login(member(site, "viewer"))
    url = reverse("pull_bundle", args=["here", run.pk])
    answer = client.get(url)
    assert "98765" not in answer.content.decode()
    assert answer.json()["reels"][0]["plan"] == ["A1"]
    again = client.get(url, headers={"if-none-match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    cut(reel, 1250, "1438.9", taped="187.5", conductor=wanted(run, "A1"))
    fresh = client.get(url, headers={"if-none-match": answer["ETag"]})
    assert fresh.status_code == 200
    assert fresh.json()["cuts"][0]["outer"] == 12_500_000
    assert fresh.json()["needs"][0]["cut"] is True


def crowd(site, cable, run, reels, cuts):
    other = a_run(site, cable, "CB-OTHER")
    rows = [
        ReelFactory(site=site, cable=cable, tag=f"R-{n:03}", outer_mark=1000, inner_mark=3000) for n in range(reels)
    ]
    for n in range(cuts):
        start = 1000 + 150 * (n // reels)
        Cut.objects.create(
            site=site, event_id=f"00000000-0000-4000-8000-{n:012}", content_hash="x", reel=rows[n % reels],
            at=at(1) + timedelta(minutes=n), recorded_at=at(1), conductor=wanted(other, "A1"), outer_mark=start,
            inner_mark=start + 140, length=42_000, taped=n % 2 == 0,
        )  # fmt: skip


def test_the_bundle_stays_small_and_is_read_in_as_many_queries_for_many_reels(site, cable, run, client):
    client.force_login(member(site, "foreman"))
    asked = []
    for reels, cuts in ((1, 1), (40, 400)):
        place = SiteFactory(slug=f"s{reels}")
        client.force_login(member(place, "foreman", username=f"f{reels}"))
        kind = CableFactory(site=place, code="C500")
        here = a_run(place, kind, "CB-1")
        crowd(place, kind, here, reels, cuts)
        for page in ("pull_bundle", "stand", "pull_run"):
            with CaptureQueriesContext(connection) as seen:
                answer = client.get(reverse(page, args=[place.slug, here.pk]))
            assert answer.status_code == 200
            asked.append((page, len(seen)))
            if page == "pull_bundle":
                kept = answer.content
    assert asked[:3] == asked[3:]
    assert len(json.loads(kept)["cuts"]) == 400
    assert len(gzip.compress(kept)) <= 40_000


def test_the_stand_works_before_any_script_and_says_where_a_cut_is_written_down(site, cable, run, reel, client):
    planned(cable, reel, run, "A1")
    client.force_login(member(site, "foreman"))
    text = unescape(client.get(reverse("stand", args=["here", run.pk])).content.decode())
    assert "1250 ft" in text
    assert "187' 6\"" in text
    assert f"{reverse('act', args=['here', 'cuts'])}?run=CB-1" in text
    client.force_login(member(site, "viewer", username="looks"))
    assert client.get(reverse("stand", args=["here", run.pk])).status_code == 403
