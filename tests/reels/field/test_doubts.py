"""All there is to look at: worked out, seen by a planner, and counted on Today."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from reels.field.doubts import doubts_page
from reels.models import DoubtSeen, Reel
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import member
from tests.reels.makers import at, cut, cut_row, decide
from tests.reels.plans.web import text_of, url

pytestmark = pytest.mark.django_db


def whats(site) -> list[str]:
    return sorted(f"{doubt.figure} {doubt.what}" for doubt in doubts_page(site).open)


def send(site, record, *, clock=None, **row):
    sender = member(site, "foreman")
    return take(
        site=site, sender=sender, roles=frozenset({"foreman"}), sent=[Sent(record, row)], device="phone", clock=clock
    )


def test_records_that_agree_leave_nothing_to_look_at(site, reel, conductors, foreman):
    cut(reel, 1250, 1450, taped=199, conductor=conductors[0])
    assert whats(site) == []
    assert "Nothing to look at" in text_of(foreman.get(url("reel_doubts", site)))


def test_overlaps_and_what_nobody_wrote_down(site, reel, conductors, foreman):
    cut(reel, 1250, 1450, conductor=conductors[0], event_id="a", by="Crew A")
    cut(reel, 1445, 1500, event_id="b", by="Crew B")
    cut(reel, 1520, 1600)
    assert whats(site) == ["20' 0\" not written down", "5' 0\" two records overlap"]
    said = text_of(foreman.get(url("reel_doubts", site)))
    assert "Marks 1445 ft to 1450 ft are in both." in said
    for side in ("Crew A", "Crew B", "1250 ft to 1450 ft", "1445 ft to 1500 ft"):
        assert side in said


def test_an_overlap_is_gone_once_one_of_them_is_taken_back(site, reel):
    made = cut(reel, 1250, 1450).cut
    cut(reel, 1440, 1500)
    assert whats(site) == ["10' 0\" two records overlap"]
    decide(made, "reversed", event_id="r")
    assert whats(site) == ["190' 0\" not written down"]


def test_a_conductor_cut_twice_until_one_is_withdrawn(site, reel, conductors):
    first = cut(reel, 1250, 1450, conductor=conductors[0]).cut
    cut(reel, 1450, 1650, conductor=conductors[0])
    assert whats(site) == ["2 × CB-03 A1 cut before"]
    decide(first, "withdrawn", event_id="w")
    assert whats(site) == []


def test_the_same_cut_twice_is_told_so(site, reel, conductors):
    for name in ("a", "b"):
        cut(reel, 1250, 1450, conductor=conductors[0], event_id=name)
    twice = next(doubt for doubt in doubts_page(site).open if doubt.what == "cut before")
    assert twice.said == "The same cut twice? Keep one."


def test_a_tape_off_its_marks_and_a_factor_far_from_one(site, reel, foreman):
    cut(reel, 1250, 1450, taped=193)
    said = text_of(foreman.get(url("reel_doubts", site)))
    assert "1250 ft to 1450 ft Tape 193' 0\"" in said
    assert whats(site) == ["0.9650 factor far from 1", "193' 0\" tape against marks"]


def test_more_taken_than_a_reel_held(site, cable):
    reel = ReelFactory(site=site, cable=cable, feet=100)
    for number in (1, 2):
        cut(reel, taped=60, event_id=f"c{number}")
    assert whats(site) == ["20' 0\" more taken than it held"]


@pytest.mark.parametrize(("hours", "told"), [(26, ["26 h clock off"]), (-26, ["26 h clock off"]), (23, [])])
def test_a_clock_that_was_a_day_off(site, reel, hours, told):
    clock = timezone.now() + timedelta(hours=hours)
    row = {"id": "c", "reel": "R-101", "at": clock.isoformat(), "purpose": "trim", "outer_mark": "1250"}
    (answer,) = send(site, "cuts", clock=clock, **row, inner_mark="1300")
    assert answer.answer in {"kept", "look"}
    assert whats(site) == told


def test_a_planner_says_seen_with_a_reason_and_it_comes_again_when_it_changes(site, reel, planner, foreman):
    cut(reel, 1250, 1300)
    cut(reel, 1320, 1400)
    (doubt,) = doubts_page(site).open
    address = url("doubt_seen", site)
    assert foreman.post(address, {"id": "s", "doubt": doubt.key, "reason": "scrap"}).status_code == 403
    refused = planner.post(address, {"id": "s", "doubt": doubt.key, "reason": ""})
    assert refused.status_code == 422
    assert doubts_page(site).count == 1
    assert planner.post(address, {"id": "s", "doubt": doubt.key, "reason": "scrap of the first day"}).status_code == 302
    page = doubts_page(site)
    assert (page.count, [each.seen.note for each in page.seen]) == (0, ["scrap of the first day"])
    assert "scrap of the first day" in text_of(planner.get(url("reel_doubts", site)))
    cut(reel, 1300, 1310)
    assert whats(site) == ["10' 0\" not written down"]
    assert "It stays as it is" not in text_of(foreman.get(url("reel_doubts", site)))


def test_seen_is_taken_back_once(site, reel, planner):
    cut(reel, 1260, 1300)
    (doubt,) = doubts_page(site).open
    keep_one(site=site, kind="doubts_seen", row={"id": "s", "doubt": doubt.key, "reason": "x", "at": at()})
    assert doubts_page(site).count == 0
    keep_one(site=site, kind="reversals", row={"id": "r", "reverses": "s", "reason": "look again", "at": at(3)})
    assert doubts_page(site).count == 1
    with pytest.raises(ValueError, match="taken back before"):
        keep_one(site=site, kind="reversals", row={"id": "r2", "reverses": "s", "reason": "again", "at": at(3)})
    assert DoubtSeen.objects.of(site).count() == 2


def test_records_of_cuts_that_wait_stand_there_too(site, reel, foreman):
    row = {**cut_row(reel, 1250, 9999), "reel": "R-101", "outer_mark": "1250", "inner_mark": "9999"}
    (answer,) = send(site, "cuts", **{**row, "at": row["at"].isoformat()})
    assert answer.answer == "aside"
    assert doubts_page(site).count == 1
    assert "Records of cuts that could not be placed" in text_of(foreman.get(url("reel_doubts", site)))


def test_today_counts_what_there_is_to_look_at(site, reel, foreman):
    today = reverse("today", args=[site.slug])
    assert "about reels to look at" not in text_of(foreman.get(today))
    cut(reel, 1260, 1300)
    assert "1 about reels to look at" in text_of(foreman.get(today))
    assert Reel.objects.of(site).count() == 1


def test_a_mark_that_was_read_and_contradicts_a_record(site, reel):
    cut(reel, 1250, 1450)
    send(site, "readings", id="m", reel="R-101", at="2026-03-03", what="mark showing", mark="1400")
    assert "50' 0\" a mark read contradicts a record" in whats(site)


def test_a_cut_off_a_reel_whose_rest_has_a_tag_names_the_piece(site, reel, foreman):
    cut(reel, 1250, 1450)
    send(site, "remnants", id="t", reel="R-101", at="2026-03-03", tag="R-101-A")
    cut(Reel.objects.of(site).get(tag="R-101"), 1450, 1500)
    assert "50' 0\" two records overlap" in whats(site)
    assert "One is piece R-101-A." in text_of(foreman.get(url("reel_doubts", site)))
