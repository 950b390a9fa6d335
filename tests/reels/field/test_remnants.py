"""What is left on a reel gets a tag of its own as it comes off, by page, phone or sheet."""

import pytest

from reels.models import Reel, ReelEvent
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from tests.factories.takeoff import member
from tests.reels.makers import at, cut
from tests.reels.plans.web import person, text_of, url

pytestmark = pytest.mark.django_db


def tag(client, site, reel, **cells):
    return client.post(url("tag_remnant", site, reel.pk), {"id": "t", "tag": "R-101-A", **cells})


def reel_of(site, name) -> Reel:
    return Reel.objects.of(site).get(tag=name)


def test_it_has_the_marks_and_the_length_that_were_left_and_the_reel_is_empty(site, reel, foreman):
    cut(reel, 1250, 1450, taped=198)
    page = foreman.get(url("tag_remnant", site, reel.pk))
    assert 'value="R-101-A"' in page.content.decode()
    assert "792' 0\" off R-101: a remnant" in text_of(page)
    answer = tag(foreman, site, reel, bin="Row 7")
    piece = reel_of(site, "R-101-A")
    assert answer["Location"] == url("reel", site, piece.pk)
    assert (piece.outer_mark, piece.inner_mark, piece.parent, piece.place.name) == (1450, 2250, reel, "Row 7")
    assert reel_of(site, "R-101").state == Reel.State.EMPTY
    assert "R-101-A came off R-101" in text_of(foreman.get(answer["Location"]))
    said = text_of(foreman.get(url("reel", site, reel.pk)))
    assert "R-101: empty" in said
    assert "R-101-A, off the reel 1450 ft → 2250 ft" in said


def test_taken_back_the_reel_is_as_it_was(site, reel, foreman):
    tag(foreman, site, reel)
    foreman.post(url("undo", site))
    assert reel_of(site, "R-101").state == Reel.State.ON_SITE
    assert reel_of(site, "R-101-A").state == Reel.State.EMPTY
    said = text_of(foreman.get(url("reel", site, reel.pk)))
    assert "left: a remnant" in said
    assert "R-101-A, off the reel" not in said


def test_once_it_was_cut_it_is_not_taken_back(site, reel, foreman):
    tag(foreman, site, reel)
    cut(reel_of(site, "R-101-A"), 1250, 1300)
    with pytest.raises(ValueError, match="R-101-A was cut since"):
        keep_one(site=site, kind="reversals", row={"id": "r", "reverses": "t", "reason": "x", "at": at(28)})


def test_off_a_reel_on_hold_it_is_on_hold(site, reel, foreman):
    Reel.objects.of(site).update(state="held")
    assert tag(foreman, site, reel).status_code == 302
    assert reel_of(site, "R-101-A").state == Reel.State.HELD
    foreman.post(url("undo", site))
    assert reel_of(site, "R-101").state == Reel.State.HELD


def test_a_tag_that_is_in_use_comes_back_and_the_next_is_proposed(site, reel, foreman):
    tag(foreman, site, reel)
    piece = reel_of(site, "R-101-A")
    answer = tag(foreman, site, piece, id="u", tag="R-101")
    assert answer.status_code == 422
    assert "Tag R-101 is in use already." in text_of(answer)
    assert 'value="R-101-A-A"' in foreman.get(url("tag_remnant", site, piece.pk)).content.decode()


def test_of_an_empty_reel_nothing_comes_off(site, reel, foreman):
    tag(foreman, site, reel)
    answer = tag(foreman, site, reel, id="u", tag="R-101-B")
    assert answer.status_code == 422
    assert "Nothing is left on reel R-101." in text_of(answer)


def test_who_may_not_cut_tags_none(site, reel):
    assert person(site, "storekeeper").get(url("tag_remnant", site, reel.pk)).status_code == 403


def test_a_cut_off_a_remnant_that_comes_before_it_waits_for_it(site, reel):
    def sent(kind, id_, minute, **cells):
        return Sent(kind, {"id": id_, "at": f"2026-03-02T12:{minute}:00Z", **cells})

    sender = member(site, "foreman")
    batches = [
        [sent("cuts", "off-a", "03", reel="R-101-A", purpose="trim", outer_mark="1450", inner_mark="1500")],
        [
            sent("remnants", "t", "02", reel="R-101", tag="R-101-A"),
            sent("cuts", "c", "01", reel="R-101", purpose="trim", outer_mark="1250", inner_mark="1450"),
        ],
    ]
    answers = [take(site=site, sender=sender, roles=frozenset({"foreman"}), sent=batch) for batch in batches]
    assert [[each.answer for each in batch] for batch in answers] == [["aside"], ["kept", "kept"]]
    piece = reel_of(site, "R-101-A")
    assert (piece.outer_mark, piece.cuts.count()) == (1450, 1)
    assert ReelEvent.objects.of(site).get().reel == piece


def test_one_that_is_returned_is_asked_about(site, reel):
    Reel.objects.of(site).update(state="returned")
    sent = [Sent("remnants", {"id": "t", "at": "2026-03-02", "reel": "R-101", "tag": "R-101-A"})]
    (answer,) = take(site=site, sender=member(site, "foreman"), roles=frozenset({"foreman"}), sent=sent)
    assert (answer.answer, answer.said) == ("look", ("Reel R-101 is said to be returned.",))
