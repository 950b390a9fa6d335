"""The page of one run: what it says of the sets that are cut, and of what its stages used."""

from datetime import timedelta

import pytest

from kits.overview.run_page import find_run, run_page
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import RunFactory, SiteFactory
from tests.kits.makers import given_back
from tests.kits.shortages.scene import Scene, at
from tests.reels.makers import cut, make_conductors
from tests.reels.plans.web import person, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def run():
    site = SiteFactory(set_tolerance="25.4", keep_length="3048", whole_reels=True)
    run = RunFactory(site=site, name="BUS-1")
    make_conductors(run, 100)
    return run


def set_of(run, name):
    page = run_page(run.site, find_run(run.site, run.pk))
    return next(one for one in page.sets if one.name == name)


def test_a_set_taped_alike_is_equal(run):
    reel = ReelFactory(site=run.site, outer_mark=0, inner_mark=900)
    for place, name in enumerate(("A1", "A2")):
        cut(reel, 102 * place, 102 * (place + 1), taped=101, conductor=run.conductors.get(name=name))
    found = set_of(run, "A")
    assert (str(found.alike), found.unequal) == ("equal by tape", None)
    assert set_of(run, "B").alike is None


def test_a_set_that_is_not_equal_says_what_stands_against_it(run):
    reel = ReelFactory(site=run.site, outer_mark=0, inner_mark=900)
    cut(reel, 0, 102, taped=101, conductor=run.conductors.get(name="A1"))
    cut(reel, 102, 206, taped=103, conductor=run.conductors.get(name="A2"))
    found = set_of(run, "A")
    assert (str(found.alike), found.unequal.kind) == ("not equal by tape", "refused")
    assert "NFPA 70 310.10" in str(found.unequal)


def test_marks_of_several_reels_prove_nothing(run):
    for name in ("A1", "A2"):
        cut(ReelFactory(site=run.site, outer_mark=0, inner_mark=900), 0, 102, conductor=run.conductors.get(name=name))
    found = set_of(run, "A")
    assert (str(found.alike), found.unequal) == ("cannot be verified", None)


def test_the_page_leads_to_the_cuts_of_the_run_and_to_their_reels(run):
    client = person(run.site, "viewer")
    page = url("run", run.site, run.pk)
    assert "Off which reels" not in text_of(client.get(page))
    reel = ReelFactory(site=run.site, tag="R-7", outer_mark=0, inner_mark=900)
    made = cut(reel, 0, 102, conductor=run.conductors.get(name="A1")).cut
    answer = client.get(page)
    assert "A1 off R-7" in text_of(answer)
    for address in (url("cut", run.site, made.pk), url("reel", run.site, reel.pk)):
        assert f'href="{address}"' in answer.content.decode()


def test_what_was_spoiled_and_came_back_counts_as_handed_out():
    scene = Scene()
    item, run = scene.item("LUG"), scene.run()
    scene.needs(run, item, "terminations", 10)
    scene.receive(scene.ship(item, 10, "S-1"), 10)
    scene.hand_out(item, 6, run, "terminations")
    given_back(item, 2, run, "terminations", at=at() + timedelta(days=3), condition="spoiled")
    page = run_page(scene.site, find_run(scene.site, run.pk))
    (row,) = [row for _, _, rows in page.stages for row in rows]
    assert row.handed_out == 6
