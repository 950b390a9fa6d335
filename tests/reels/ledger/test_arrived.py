"""Reels that came: announced or not, whole or not, taken back."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kits.audit.proofs import prove_site
from reels.models import Reel, ReelEvent
from takeoff.models import Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.records.terms.errors import AskFirstError, RecordError
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, SiteFactory, member
from tests.kits.makers import at

pytestmark = pytest.mark.django_db
FT = Decimal("304.8")


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def cable(site):
    return CableFactory(site=site, code="LV-500")


@pytest.fixture
def announced(site, cable):
    return ReelFactory(site=site, tag="R-1", cable=cable, state="on the way", delivery="SH-9", feet=1000)


def came(site, id_="e", **row):
    return keep_one(site=site, kind="reel_events", row={"id": id_, "reel": "R-1", "at": at(3), **row})


def test_a_reel_that_was_announced_is_here_with_what_was_read_off_it(site, announced):
    came(site, outer_mark="3740", inner_mark="2742", gross="2345 lb", bin="Yard row 1", by="Sam")
    reel = Reel.objects.of(site).get()
    assert (reel.state, reel.outer_mark, reel.inner_mark) == ("on site", 3740, 2742)
    assert (reel.gross, reel.weight_unit, reel.place.name, reel.length) == (2345, "lb", "Yard row 1", 1000 * FT)
    assert all(proof.holds for proof in prove_site(site))


def test_a_missing_end_seal_holds_it_and_other_points_are_asked_about(site, announced):
    with pytest.raises(AskFirstError) as asked:
        came(site, points="lying flat")
    assert asked.value.said == ("R-1: lying flat. It is not on hold.",)
    came(site, points="end seal missing, lying flat")
    assert Reel.objects.of(site).get().state == "held"
    assert ReelEvent.objects.of(site).get().points == "lying flat, end seal missing"


def test_marks_that_say_another_length_than_the_tag_are_asked_about(site, announced):
    """1 000 ft by the tag: marks 1 010 ft apart are within one percent, 1 011 ft are not."""
    came(site, outer_mark="3740", inner_mark="2730")
    keep_one(site=site, kind="reversals", row={"id": "u", "reverses": "e", "reason": "misread", "at": at(4)})
    with pytest.raises(AskFirstError) as asked:
        came(site, "f", outer_mark="3741", inner_mark="2730")
    assert asked.value.said == ("The marks of R-1 say 1\u202f011' 0\", its tag 1\u202f000' 0\".",)


def test_a_reel_nobody_announced_needs_its_cable_and_length(site, cable):
    with pytest.raises(RecordError) as error:
        came(site)
    assert error.value.column == "cable"
    came(site, cable="LV-500", length="1250 ft", shipment="SH-7")
    reel = Reel.objects.of(site).get()
    assert (reel.length, reel.delivery, reel.state, reel.mark_unit) == (1250 * FT, "SH-7", "on site", "ft")


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ({"cable": "LV-350"}, "cable"),
        ({"outer_mark": "10"}, "inner_mark"),
        ({"outer_mark": "7", "inner_mark": "7"}, "outer_mark"),
    ],
)
def test_what_cannot_have_come_so_is_refused(site, announced, row, column):
    CableFactory(site=site, code="LV-350")
    with pytest.raises(RecordError) as error:
        came(site, **row)
    assert error.value.column == column
    assert Reel.objects.of(site).get().state == "on the way"


def test_a_tag_that_is_here_is_in_use(site, announced):
    came(site)
    with pytest.raises(RecordError) as error:
        came(site, "f")
    assert "its tag is in use" in str(error.value)


def test_taken_back_it_is_on_the_way_again_as_it_was_announced_and_comes_again(site, announced):
    came(site, outer_mark="3740", inner_mark="2742", gross="2345 lb", points="end seal missing")
    row = {"id": "u", "reverses": "e", "reason": "wrong reel", "at": at(4)}
    keep_one(site=site, kind="reversals", row=row)
    reel = Reel.objects.of(site).get()
    assert (reel.state, reel.outer_mark, reel.gross, reel.delivery) == ("on the way", None, None, "SH-9")
    with pytest.raises(RecordError):
        keep_one(site=site, kind="reversals", row={**row, "id": "u2"})
    came(site, "f")
    assert Reel.objects.of(site).get().state == "on site"


def test_one_made_by_mistake_is_empty_and_can_come_again(site, cable):
    came(site, cable="LV-500", length="1250 ft")
    keep_one(site=site, kind="reversals", row={"id": "u", "reverses": "e", "reason": "wrong tap", "at": at(4)})
    assert Reel.objects.of(site).get().state == "empty"
    came(site, "f", length="1300 ft")
    assert Reel.objects.of(site).get().length == 1300 * FT


def test_the_page_brings_a_reel_in_without_any_script(client, site, announced):
    client.force_login(member(site, "foreman"))
    page = client.get(reverse("receiving_reels", args=["here"]) + "?delivery=SH-9").content.decode()
    assert "R-1" in page
    fields = {"id": "e", "reel": "R-1", "points": ["end seal missing", "stacked"], "outer_mark": "3740"}
    assert client.post(reverse("act", args=["here", "reel_events"]), fields).status_code == 422
    fields["inner_mark"] = "2742"
    assert client.post(reverse("act", args=["here", "reel_events"]), fields).status_code == 302
    assert Reel.objects.of(site).get().state == "held"


def test_a_batch_brings_in_many_reels_in_as_many_queries_as_few(site, cable):
    def asked(count: int) -> int:
        tags = [f"N{count}-{number}" for number in range(count)]
        for tag in tags:
            ReelFactory(site=site, tag=tag, cable=cable, state="on the way", feet=1000)
        rows = [{"id": f"e{tag}", "reel": tag, "at": at(3).isoformat(), "bin": "Yard"} for tag in tags]
        with CaptureQueriesContext(connection) as queries:
            answers = take(
                site=site,
                sender=user,
                roles=frozenset({"storekeeper"}),
                sent=[Sent("reel_events", row) for row in rows],
            )
        assert {one.answer for one in answers} == {"kept"}
        return len(queries)

    user = member(site, "storekeeper")
    asked(1)  # the yard is made
    assert asked(2) == asked(20)


def test_of_one_tag_twice_in_a_batch_the_second_finds_it_here(site, announced):
    user = member(site, "storekeeper")
    rows = [{"id": name, "reel": "R-1", "at": at(3).isoformat()} for name in ("e", "f")]
    sent = [Sent("reel_events", row) for row in rows]
    answers = take(site=site, sender=user, roles=frozenset({"storekeeper"}), sent=sent)
    assert [one.answer for one in answers] == ["kept", "aside"]
    assert ReelEvent.objects.of(site).count() == 1
