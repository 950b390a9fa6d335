"""The list of reels and the page of one."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from reels.plans.services import accept_plan
from tests.factories.reels import CutFactory, ReelFactory
from tests.factories.takeoff import CableFactory, PlaceFactory, RunFactory, SiteFactory
from tests.reels.makers import cut, decide, make_conductors
from tests.reels.plans.web import person, planned, text_of, url

pytestmark = pytest.mark.django_db


def page(client, site, reel):
    answer = client.get(url("reel", site, reel.pk))
    assert answer.status_code == 200
    return text_of(answer)


def test_the_list_says_what_is_left_first_and_is_narrowed(site, cable, reel, foreman):
    cut(reel, 1250, 1450)
    other = CableFactory(site=site, code="LV-350", size="350")
    ReelFactory(
        site=site, cable=other, tag="R-200", feet=300, state="held", place=PlaceFactory(site=site, name="Row 7")
    )
    said = text_of(foreman.get(url("reels", site)))
    assert "800' 0\" R-101" in said
    assert "1 reel on site" in said
    for narrowed in ({"cable": "LV-350"}, {"state": "held"}, {"place": "row 7"}, {"q": "r-2"}):
        said = text_of(foreman.get(url("reels", site), narrowed))
        assert "R-200" in said
        assert "R-101" not in said


def test_a_site_without_reels_says_what_brings_them(site, foreman):
    assert "No reels yet." in text_of(foreman.get(url("reels", site)))
    assert "No reel matches." in text_of(foreman.get(url("reels", site), {"q": "x"}))


def test_a_reel_is_told_stretch_by_stretch_in_marks(site, reel, conductors, foreman):
    cut(reel, 1250, "1438.9", taped="187.5", conductor=conductors[0])
    cut(reel, 1500, 1600, taped=100, event_id="trim")
    cut(reel, 1590, 1650, event_id="late")
    said = page(foreman, site, reel)
    assert "187' 6\" CB-03 A1 1250 ft → 1438 ft + 11 in" in said
    assert "not written down 1438 ft + 11 in → 1500 ft" in said
    assert "two records overlap: trim and trim 1590 ft → 1600 ft" in said
    assert "left: a remnant 1650 ft → 2250 ft" in said
    assert "by the marks × 0.9952, the factor of its taped cuts" in said
    assert "Two records overlap on this reel" in said


def test_the_drawing_has_each_stretch(site, reel, conductors, foreman):
    cut(reel, 1250, 1450, conductor=conductors[0])
    html = foreman.get(url("reel", site, reel.pk)).content.decode()
    assert html.count('class="gone"') == 1 + 2, "one cut, and two in the key"
    assert ">CB-03 A1</text>" in html
    assert ">1\u202f400</text>" in html


def test_a_reel_without_marks_is_told_by_length(site, cable, foreman):
    reel = ReelFactory(site=site, cable=cable, tag="R-9", feet=500)
    cut(reel, taped=100)
    said = page(foreman, site, reel)
    assert "400' 0\" left" in said
    assert "received, less what was taped" in said
    assert "trim" in said


def test_what_comes_next_is_by_tape_first_and_at_a_mark_once_the_reel_has_a_factor(
    site, cable, reel, conductors, foreman
):
    accept_plan(site=site, plan=planned(site, cable))
    said = page(foreman, site, reel)
    assert "Next: CB-03 A1, 187' 6\". By tape, cut there, read the mark." in said
    cut(reel, 1250, "1438.9", taped="187.5", conductor=conductors[0])
    # Factor 187.5 / 188.9; 187.5 ft more end at 1438.9 + 188.9 = 1627.8: 10 in past 1627, never short.
    assert "Next: CB-03 A2, 187' 6\". Cut at 1627 ft + 10 in →" in page(foreman, site, reel)


def test_drawn_and_not_measured_is_not_to_be_cut(site, cable, reel, foreman):
    make_conductors(RunFactory(site=site, name="CB-07"), 100, "A1")
    accept_plan(site=site, plan=planned(site, cable))
    said = page(foreman, site, reel)
    assert "1 planned off it, drawn and not measured: do not cut." in said
    assert "Next:" not in said


def test_history_is_newest_first_and_says_what_was_taken_back(site, reel, conductors, foreman):
    made = cut(reel, 1250, 1450, conductor=conductors[0], event_id="a").cut
    decide(made, "withdrawn", event_id="d", reason="nicked in the pull", piece_tag="R-101-P1")
    said = page(foreman, site, reel)
    history = said[said.index("History") :]
    assert history.index("nicked in the pull") < history.index("cut: CB-03 A1")
    assert "CB-03 A1, withdrawn" in said
    assert "R-101-P1" in said


def test_the_label_of_a_reel_leads_to_its_page(site, reel, foreman):
    answer = foreman.get(url("labelled", site, f"r{reel.pk}"))
    assert answer["Location"] == url("reel", site, reel.pk)


def test_a_reel_of_another_site_is_not_found(reel, site, foreman):
    other = ReelFactory(site=SiteFactory(slug="there"), feet=10)
    assert foreman.get(url("reel", site, other.pk)).status_code == 404
    assert person(site, "viewer").get(url("reel", site, reel.pk)).status_code == 200


def test_who_may_not_cut_is_not_offered_it(site, reel, foreman):
    assert "Record a cut" in page(foreman, site, reel)
    assert "Record a cut" not in page(person(site, "storekeeper"), site, reel)


def test_the_list_and_a_page_ask_as_often_for_200_reels_as_for_10(site, cable, foreman):
    def crowd(count, start):
        for number in range(start, start + count):
            reel = ReelFactory(site=site, cable=cable, tag=f"R{number:03}", outer_mark=0, inner_mark=1000)
            for place in range(2):
                CutFactory(reel=reel, purpose="trim", outer_mark=place * 10, inner_mark=place * 10 + 10, length=3048)
        return reel

    asked = []
    for count, start in ((10, 0), (190, 10)):
        reel = crowd(count, start)
        with CaptureQueriesContext(connection) as seen:
            for address in (url("reels", site), url("reel", site, reel.pk), url("reel_doubts", site)):
                assert foreman.get(address).status_code == 200
        asked.append(len(seen))
    assert asked[0] == asked[1] <= 75
