"""The list of a run on paper, and its lines typed in."""

from html import unescape
from uuid import uuid4

import pytest
from django.urls import reverse

from kits.pulling.paper import paper_of
from reels.models import Cut
from takeoff.models import Site
from tests.factories.takeoff import member
from tests.kits.pulling.makers import planned, stand_of, wanted
from tests.reels.makers import cut

pytestmark = pytest.mark.django_db


def test_the_list_gives_each_length_its_marks_one_after_the_other(site, cable, run, reel):
    """Worked: factor 187.5 / 188.9; each length takes 188.9 marks: 1438.9, 1627.8, 1816.75 up to a whole inch."""
    Site.objects.update(marks_as="tenths")
    site.refresh_from_db()
    planned(cable, reel, run, "A1", "A2", "A3")
    first = paper_of(stand_of(site, run))[0].lines[0]
    assert (first.begins, first.at) == ("1250.0 ft", "1439.4 ft")
    cut(reel, 1250, "1438.9", taped="187.5", conductor=wanted(run, "A1"))
    (one,) = paper_of(stand_of(site, run))
    assert [(line.name, line.begins, line.at) for line in one.lines] == [
        ("A2", "1438.9 ft", "1627.8 ft"),
        ("A3", "1627.8 ft", "1816.7 ft"),
    ]
    assert not one.by_tape


def test_what_is_ticked_is_written_down_and_the_rest_is_not(site, cable, run, reel, client):
    planned(cable, reel, run, "A1", "A2")
    client.force_login(member(site, "foreman"))
    page = unescape(client.get(reverse("pull_enter", args=["here", run.pk])).content.decode())
    number = f"{reel.pk}001"
    assert f'name="{number}-outer_mark"' in page
    sent = {"run": "CB-1", "purpose": "conductor", "by": "Crew A", "at": "2026-03-04 09:30"}
    for n, name in (("001", "A1"), ("002", "A2")):
        sent |= {f"{reel.pk}{n}-conductor": name, f"{reel.pk}{n}-reel": "R-1"}
    ticked = {f"{number}-id": str(uuid4()), f"{number}-outer_mark": "1250", f"{number}-inner_mark": "1438.9"}
    ticked |= {f"{number}-length": "187 ft 6 in"}
    answer = client.post(reverse("act", args=["here", "cuts"]), sent | ticked)
    assert answer.status_code == 302
    (kept,) = Cut.objects.all()
    assert (kept.conductor.name, kept.by, kept.taped, kept.at.hour) == ("A1", "Crew A", True, 9)


def test_paper_is_for_all_and_the_grid_for_those_who_cut(site, cable, run, reel, client):
    planned(cable, reel, run, "A1")
    client.force_login(member(site, "viewer"))
    text = client.get(reverse("pull_list", args=["here", run.pk])).content.decode()
    assert "R-1: 1 length for CB-1" in text
    assert client.get(reverse("pull_enter", args=["here", run.pk])).status_code == 403
