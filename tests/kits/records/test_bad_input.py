"""What bad input gets: of a page a sentence and nothing lost, of a queue *look*, *aside* or *refused*."""

from datetime import timedelta

import pytest
from django.urls import reverse

from kits.audit.proofs import prove_site
from kits.models import Lot, Posting, ReceiptLine
from takeoff.models import Record, SetAside, Site
from takeoff.records.decoding import Sent
from takeoff.records.services import take
from tests.factories.kits import KitFactory, PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, member
from tests.kits.makers import counted, handed, lying, received, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def person(site):
    return member(site, "storekeeper")


@pytest.fixture
def page(client, person):
    client.force_login(person)

    def sent(kind, **row):
        answer = client.post(reverse("act", args=["here", kind]), {"id": "page", **row})
        asked = answer.context.get("asked") if answer.context else None
        return answer.status_code, bool(asked), answer.content.decode()

    return sent


@pytest.fixture
def queue(site, person):
    def sent(kind, **row):
        (answer,) = take(
            site=site,
            sender=person,
            roles=frozenset({"storekeeper"}),
            sent=[Sent(kind, {"id": "queue", "at": site.start_of(site.today()).isoformat(), **row})],
        )
        return answer

    return sent


@pytest.fixture
def lug(site):
    item = ItemFactory(site=site, code="LUG")
    shipment = ShipmentFactory(site=site, name="S-1")
    PackingLineFactory(
        shipment=shipment, package=PackageFactory(shipment=shipment, name="Crate 1"), item=item, quantity=40
    )
    return item


LINE = {"shipment": "S-1", "item": "LUG"}


@pytest.mark.parametrize("figure", ["-1", "1.00001", "1e15", "NaN", "12 boxes", "Infinity", "1" * 400])
def test_a_figure_that_is_none_names_its_field_and_keeps_what_was_typed(lug, page, queue, figure):
    status, asked, text = page("receipts", counted=figure, note="wet crate", **LINE)
    assert (status, asked) == (422, False)
    assert "wet crate" in text
    assert 'name="counted"' in text
    answer = queue("receipts", counted=figure, **LINE)
    assert (answer.answer, answer.column) == ("refused", "counted")
    assert not Record.objects.exists()


def test_half_a_piece_is_asked_not_refused(lug, page, queue):
    status, asked, text = page("receipts", counted="2.5", **LINE)
    assert (status, asked) == (422, True), text
    assert queue("receipts", counted="2.5", **LINE).answer == "look"
    assert lying(lug)["bin Store"] == 2.5


@pytest.mark.parametrize(
    ("days", "what"),
    [(-40, "look"), (365 * 11, "look")],
)
def test_a_last_day_that_is_past_or_far_ahead_is_kept_and_put_before_a_person(site, lug, page, queue, days, what):
    day = (site.today() + timedelta(days=days)).isoformat()
    answer = queue("receipts", counted="4", lot="L", expires=day, **LINE)
    assert answer.answer == what
    assert Lot.objects.get().expires.isoformat() == day


def test_made_after_today_is_refused(site, lug, page, queue):
    tomorrow = (site.today() + timedelta(days=2)).isoformat()
    status, asked, text = page("receipts", counted="4", lot="L", made=tomorrow, **LINE)
    assert (status, asked) == (422, False), text
    assert queue("receipts", counted="4", lot="L", made=tomorrow, **LINE).answer == "refused"


def test_another_day_for_a_known_lot_is_shown_beside_the_known_one(site, lug, page, queue):
    assert queue("receipts", counted="4", lot="L", expires="2030-05-31", part="yes", **LINE).answer == "kept"
    status, _, text = page("receipts", counted="4", lot="L", expires="2031-05-31", **LINE)
    assert status == 422
    assert "31 May 2030" in text or "2030-05-31" in text
    assert Lot.objects.get().expires.isoformat() == "2030-05-31"


def test_a_refused_grade_is_held_and_said_so_every_time(site, page, queue):
    item = ItemFactory(site=site, code="SEAL", refuse="silicone")
    shipment = ShipmentFactory(site=site, name="S-2")
    PackingLineFactory(shipment=shipment, item=item, quantity=12)
    row = {"shipment": "S-2", "item": "SEAL", "counted": "12", "grade": "Silicone, clear"}
    first = queue("receipts", **row)
    assert first.answer == "look"
    assert "silicone" in " ".join(first.said).lower()
    again = queue("receipts", **row)
    assert (again.answer, again.said) == ("known", first.said)
    assert ReceiptLine.objects.get().verdict == "refused"
    assert lying(item)["quarantine Quarantine, refused"] == 12


def test_a_bin_nobody_knows_is_named_on_a_page_and_waits_from_a_queue(site, lug, page, queue):
    stocked(lug, 9, "Shelf 1")
    run = RunFactory(site=site, name="CB-1")
    row = {"item": "LUG", "quantity": "2", "run": "CB-1", "stage": "seals", "bin": "Shelf 7"}
    status, asked, text = page("issues", **row)
    assert (status, asked) == (422, False)
    assert "Shelf 1" in text
    assert queue("issues", **row).answer == "aside"
    assert SetAside.objects.of(site).count() == 1
    assert lying(lug)["bin Shelf 1"] == 9
    assert run.name == "CB-1"


def test_the_box_of_another_run_names_whom_to_borrow_from(site, lug, page, queue):
    owner, run = RunFactory(site=site, name="CB-2"), RunFactory(site=site, name="CB-1")
    kit = KitFactory(site=site, name="kit two", run=owner)
    shipment = ShipmentFactory(site=site, name="S-3")
    PackingLineFactory(shipment=shipment, item=lug, quantity=6, kit=kit)
    received(shipment, counted(lug, 6))
    row = {"item": "LUG", "quantity": "2", "run": run.name, "stage": "seals", "bin": "kit two"}
    status, _, text = page("issues", **row)
    assert status == 422
    assert "CB-2" in text
    assert queue("issues", **row).answer == "aside"


def test_more_than_is_there_says_where_the_rest_lies(site, lug, page, queue):
    stocked(lug, 3, "Shelf 1")
    stocked(lug, 5, "Shelf 2")
    RunFactory(site=site, name="CB-1")
    row = {"item": "LUG", "quantity": "4", "run": "CB-1", "stage": "seals", "bin": "Shelf 1"}
    status, _, text = page("issues", **row)
    assert status == 422
    assert "Shelf 2" in text
    assert queue("issues", **row).answer == "aside"
    assert (lying(lug)["bin Shelf 1"], lying(lug)["bin Shelf 2"]) == (3, 5)


def test_the_same_id_with_other_content_names_the_act_and_what_to_do(site, lug, page, queue):
    assert queue("receipts", counted="40", **LINE).answer == "kept"
    answer = queue("receipts", counted="39", **LINE)
    assert answer.answer == "refused"
    assert "queue" in " ".join(answer.said)
    status, _, _ = page("receipts", counted="40", **LINE | {"id": "queue"})
    assert status in {302, 422}
    assert Posting.objects.of(site).count() == 1


@pytest.mark.parametrize("words", ["<script>alert(1)</script>", "=1+1", "🙂 wet", "קופסה רטובה", "x" * 300])
def test_odd_words_are_kept_as_text(lug, page, words):
    assert page("receipts", counted="40", note=words, **LINE)[0] == 302
    assert Record.objects.get().row["note"] == words


@pytest.mark.parametrize("words", ["x" * 301, "wet\x00crate"])
def test_too_long_or_no_text_is_named(lug, page, queue, words):
    assert page("receipts", counted="40", note=words, **LINE)[0] == 422
    assert (queue("receipts", counted="40", note=words, **LINE).column) == "note"
    assert not Record.objects.exists()


def test_counting_below_what_was_handed_out_says_how_many_came_at_least(site, lug, page, queue):
    assert queue("receipts", counted="10", **LINE).answer == "kept"
    handed(lug, 9, RunFactory(site=site), "seals")
    status, _, text = page("receipts", counted="8", again="same", **LINE)
    assert status == 422
    assert "at least 9" in text
    assert all(proof.holds for proof in prove_site(site))


def test_taking_back_a_correction_that_comes_late_waits_and_breaks_nothing(site, lug, person):
    roles, at = frozenset({"storekeeper"}), site.start_of(site.today()).isoformat()

    def sent(kind, **row):
        (answer,) = take(site=site, sender=person, roles=roles, sent=[Sent(kind, {"at": at, **row})])
        return answer.answer

    assert sent("reversals", id="second", reverses="first", reason="no") == "aside"
    assert sent("receipts", id="count", counted="40", **LINE) == "kept"
    assert sent("reversals", id="first", reverses="count", reason="wrong tap") == "kept"
    assert SetAside.objects.of(site).get(end=None).record.event_id == "second"
    assert lying(lug) == {}
