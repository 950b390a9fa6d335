"""A cut recorded on a page, and what is decided about it."""

import re
from uuid import uuid4

import pytest

from reels.ledger.queries import reel_entries
from reels.models import Cut, CutDecision, Reel
from reels.plans.services import accept_plan
from takeoff.units.exact import to_ticks
from tests.factories.reels import FT, ReelFactory
from tests.factories.takeoff import RunFactory, SiteFactory
from tests.reels.makers import cut, decide, make_conductors
from tests.reels.plans.web import person, planned, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(site, cable, reel, conductors):
    return accept_plan(site=site, plan=planned(site, cable))


def send(client, site, reel, **cells):
    """Send the form of a cut, its fields by name and place."""
    return client.post(url("cut_reel", site, reel.pk), {"id": str(uuid4()), **cells})


def taped(feet, inches="", **more):
    return {"length_0": feet, "length_1": inches, **more}


def confirmation(answer) -> str:
    return re.search(r'name="confirmed" value="(\w+)"', answer.content.decode())[1]


def test_the_form_tells_the_least_first_and_fills_nothing_in(site, reel, conductors, plan, foreman):
    answer = foreman.get(url("cut_reel", site, reel.pk))
    said = text_of(answer)
    assert "CB-03 A1: 187' 6\", by tape" in said
    # Without a tape: 1250 + 187.5 / 0.99 = 1439.39, so 5 in past 1439.
    assert "Only without a tape: cut at 1439 ft + 5 in →" in said
    assert not re.search(r'name="(length|inner_mark|outer_mark)_\d"[^>]*value=', answer.content.decode())


def test_a_first_cut_by_tape_is_kept_and_the_next_mark_told(site, reel, conductors, plan, foreman):
    wanted = conductors[0].pk
    answer = send(foreman, site, reel, wanted=wanted, inner_mark_0="1438", inner_mark_1="10.8", **taped("187", "6"))
    assert answer.status_code == 302, text_of(answer)
    made = Cut.objects.of(site).get()
    assert (made.conductor, made.taped, made.length) == (conductors[0], True, FT * 187 + FT / 2)
    assert (made.outer_mark, to_ticks(made.inner_mark)) == (1250, 14_389_000)
    said = text_of(foreman.get(answer["Location"]))
    assert "Cut at 1627 ft + 10 in →" in said
    assert "Undo" in said
    foreman.post(url("undo", site), {"next": answer["Location"]})
    assert reel_entries(site)[0].cuts == ()


def test_numbers_that_are_no_length_come_back_with_what_to_write(site, reel, conductors, plan, foreman):
    answer = send(
        foreman, site, reel, wanted=conductors[0].pk, inner_mark_0="1438", inner_mark_1="11", **taped("187/6")
    )
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "Whole feet in the first field, inches in the second" in said
    assert 'value="187/6"' in said
    assert 'value="1438"' in said
    assert "Nothing was kept." in said
    assert not Cut.objects.of(site).exists()


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({}, "Write its length by tape, or the mark read at the cut."),
        (taped("-2"), "Whole feet"),
        (taped("1e9"), "Whole feet"),
        (taped("1051"), "is more than all of R-101, 1 000' 0\". Tape it again."),
        ({"inner_mark_0": "2251"}, "Read the mark again."),
        ({"inner_mark_0": "1438.12345"}, "at most 4 decimals"),
        ({"outer_mark_0": "1250", **taped("10")}, "Write the mark read at the cut, too."),
        ({**taped("10"), "wanted": "other"}, "Name the run and the conductor"),
        ({**taped("10"), "wanted": "other", "run": "CB-99", "conductor": "A1"}, "CB-99"),
        ({**taped("10"), "wanted": "other", "run": "CB-03", "conductor": "Z9"}, "CB-03 has no conductor Z9"),
        ({**taped("10"), "wanted": "99"}, "Choose one of these."),
        ({**taped("10"), "id": "x" * 100}, ""),
        ({**taped("10"), "at": "yesterday"}, "Write"),
    ],
)
def test_what_cannot_be_is_refused_with_the_way_out(site, reel, conductors, foreman, cells, told):
    answer = send(foreman, site, reel, **{"wanted": "trim", **cells})
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert not Cut.objects.of(site).exists()


def test_all_there_is_to_ask_is_asked_at_once_and_confirmed_by_its_hash(site, cable, reel, conductors, foreman):
    make_conductors(RunFactory(site=site, name="CB-08"), 100, "A1")
    cells = {"id": "one", "wanted": "other", "run": "CB-08", "conductor": "A1", **taped("90")}
    asked = send(foreman, site, reel, **cells)
    assert asked.status_code == 422
    said = text_of(asked)
    assert "CB-08 is drawn, not measured" in said
    assert "10' 0\" shorter than CB-08 A1 needs" in said
    assert not Cut.objects.of(site).exists()
    unseen = send(foreman, site, reel, confirmed="0" * 16, **cells)
    assert unseen.status_code == 422
    assert not Cut.objects.of(site).exists()
    assert send(foreman, site, reel, confirmed=confirmation(asked), **cells).status_code == 302
    assert Cut.objects.of(site).count() == 1


def test_what_the_page_alone_asks_is_asked_too(site, reel, conductors, plan, foreman):
    cells = {"id": "one", "wanted": conductors[0].pk, **taped("187", "6")}
    assert send(foreman, site, reel, **cells).status_code == 302
    again = send(foreman, site, reel, **{**cells, "id": "two", "wanted": "other", "run": "CB-03", "conductor": "A1"})
    said = text_of(again)
    assert "CB-03 A1 is cut already: off R-101" in said
    assert Cut.objects.of(site).count() == 1


def test_another_run_that_then_lacks_a_reel_is_named(site, cable, foreman):
    reel = ReelFactory(site=site, cable=cable, tag="R-5", outer_mark=0, inner_mark=200)
    make_conductors(RunFactory(site=site, name="CB-04", measured=True), 150, "B1")
    accept_plan(site=site, plan=planned(site, cable))
    make_conductors(RunFactory(site=site, name="CB-05", measured=True), 100, "A1")
    answer = send(foreman, site, reel, wanted="other", run="CB-05", conductor="A1", **taped("100"))
    assert "Then CB-04 B1, 150' 0\", has no reel." in text_of(answer)


def test_pressed_twice_it_is_kept_once(site, reel, conductors, plan, foreman):
    cells = {"id": "one", "wanted": conductors[0].pk, **taped("187", "6")}
    assert [send(foreman, site, reel, **cells).status_code for _ in range(2)] == [302, 302]
    assert Cut.objects.of(site).count() == 1


def test_a_reel_that_was_returned_is_not_cut_on_a_page(site, reel, foreman):
    Reel.objects.of(site).filter(pk=reel.pk).update(state="returned")
    answer = send(foreman, site, reel, wanted="trim", **taped("10"))
    assert answer.status_code == 422
    assert "It was returned to the supplier." in text_of(answer)
    assert not Cut.objects.of(site).exists()


def test_a_reel_read_in_tenths_asks_for_one_number(cable, foreman):
    site = SiteFactory(slug="tenths", marks_as="tenths")
    reel = ReelFactory(site=site, outer_mark=3740, inner_mark=2740)
    client = person(site, "foreman")
    assert send(client, site, reel, wanted="trim", inner_mark_0="3552.1").status_code == 302
    assert to_ticks(Cut.objects.of(site).get().inner_mark) == 35_521_000


def test_html_in_what_was_sent_is_shown_as_text(site, reel, foreman):
    made = cut(reel, 1250, 1450, by="<b>me</b>").cut
    decide(made, "withdrawn", event_id="d", reason="<script>x</script>")
    html = foreman.get(url("cut", site, made.pk)).content.decode()
    assert "<script>x" not in html
    assert "&lt;b&gt;me" in html


def test_a_cut_is_shown_as_it_was_sent_with_its_decisions(site, reel, conductors, foreman):
    made = cut(reel, 1250, 1450, taped=199, conductor=conductors[0], by="Crew A").cut
    said = text_of(foreman.get(url("cut", site, made.pk)))
    assert "199' 0\" off R-101" in said
    assert "from mark 1250 ft to 1450 ft" in said
    assert "inner_mark 1450" in said
    assert "Nothing: it stands as it was cut." in said


def test_a_cut_that_failed_becomes_a_piece_and_can_be_taken_back(site, reel, conductors, foreman):
    made = cut(reel, 1250, 1450, conductor=conductors[0]).cut
    assert 'value="R-101-P1"' in foreman.get(url("cut", site, made.pk)).content.decode()
    cells = {"id": "w", "reason": "nicked", "piece_tag": "R-101-P1"}
    assert foreman.post(url("withdraw_cut", site, made.pk), cells).status_code == 302
    assert Reel.objects.of(site).get(tag="R-101-P1").parent == reel
    said = text_of(foreman.get(url("cut", site, made.pk)))
    assert "withdrawn" in said
    assert "It failed: withdraw it" not in said
    answer = foreman.post(
        url("undo_cut_decision", site, made.pk), {"id": "u", "decision": "w", "reason": "it is whole"}
    )
    assert answer.status_code == 302
    assert Reel.objects.of(site).get(tag="R-101-P1").state == Reel.State.EMPTY
    assert CutDecision.objects.of(site).filter(cut=made).count() == 2


def test_a_decision_without_a_reason_comes_back(site, reel, foreman):
    made = cut(reel, 1250, 1450).cut
    answer = foreman.post(url("withdraw_cut", site, made.pk), {"id": "w", "reason": "", "piece_tag": "R-101-P7"})
    assert answer.status_code == 422
    assert 'value="R-101-P7"' in answer.content.decode()
    assert not CutDecision.objects.of(site).exists()


def test_a_decision_on_a_decided_cut_is_refused(site, reel, foreman):
    made = cut(reel, 1250, 1450).cut
    decide(made, "withdrawn", event_id="d")
    answer = foreman.post(url("withdraw_cut", site, made.pk), {"id": "w", "reason": "again"})
    assert answer.status_code == 422
    assert "is withdrawn already" in text_of(answer)


def test_only_who_recorded_a_cut_or_a_planner_takes_it_back(site, reel, foreman, planner):
    send(foreman, site, reel, wanted="trim", **taped("10"))
    mine = Cut.objects.of(site).get()
    other = person(site, "foreman")
    address = url("reverse_cut", site, mine.pk)
    assert other.post(address, {"id": "r", "reason": "x"}).status_code == 403
    assert "Entered wrongly" not in text_of(other.get(url("cut", site, mine.pk)))
    assert foreman.post(address, {"id": "r", "reason": "wrong reel"}).status_code == 302
    assert "taken back" in text_of(foreman.get(url("cut", site, mine.pk)))
    send(foreman, site, reel, wanted="trim", **taped("20"))
    second = Cut.objects.of(site).latest("pk")
    assert planner.post(url("reverse_cut", site, second.pk), {"id": "r2", "reason": "x"}).status_code == 302


def test_taken_back_it_is_recorded_anew_from_what_it_said(site, reel, conductors, planner):
    made = cut(reel, 1250, 1450, conductor=conductors[0], by="Crew A").cut
    address = url("reverse_cut", site, made.pk)
    answer = planner.post(address, {"id": "r", "reason": "wrong marks", "anew": "yes"})
    assert answer["Location"] == f"{url('cut_reel', site, reel.pk)}?again={made.pk}"
    html = planner.get(answer["Location"]).content.decode()
    assert 'value="CB-03"' in html
    assert 'value="Crew A"' in html
    assert 'value="2026-03-02T12:00"' in html, "of the same time"
    for wrong in ("x", "9" * 30, "0"):
        assert planner.get(url("cut_reel", site, reel.pk), {"again": wrong}).status_code == 200


def test_a_planner_accepts_what_is_short_and_a_foreman_may_not(site, reel, conductors, foreman, planner):
    made = cut(reel, 1250, 1450, taped=187, conductor=conductors[0]).cut
    address = url("accept_cut", site, made.pk)
    assert 'Short by 6"' in text_of(planner.get(url("cut", site, made.pk)))
    assert foreman.post(address, {"id": "a", "reason": "fits"}).status_code == 403
    assert planner.post(address, {"id": "a", "reason": "fits"}).status_code == 302
    undo = url("undo_cut_decision", site, made.pk)
    assert foreman.post(undo, {"id": "u", "decision": "a", "reason": "no"}).status_code == 403
    assert planner.post(undo, {"id": "u", "decision": "a", "reason": "no"}).status_code == 302


def test_below_the_least_stick_out_nothing_is_accepted(site, reel, conductors, planner):
    made = cut(reel, 1250, 1450, taped=180, conductor=conductors[0]).cut
    answer = planner.post(url("accept_cut", site, made.pk), {"id": "a", "reason": "fits"})
    assert answer.status_code == 422
    assert "cannot be terminated below 187' 0\"" in text_of(answer)


def test_what_only_takes_a_form_leads_to_the_cut(site, reel, planner):
    made = cut(reel, 1250, 1450).cut
    for name in ("withdraw_cut", "reverse_cut", "accept_cut", "undo_cut_decision"):
        assert planner.get(url(name, site, made.pk))["Location"] == url("cut", site, made.pk)


def test_a_cut_of_another_site_is_not_found(site, foreman):
    other = cut(ReelFactory(site=SiteFactory(slug="there"), outer_mark=0, inner_mark=100), 0, 10).cut
    assert foreman.get(url("cut", site, other.pk)).status_code == 404
    assert foreman.post(url("withdraw_cut", site, other.pk), {"id": "w", "reason": "x"}).status_code == 404
