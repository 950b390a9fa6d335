"""The endpoint of records: what it takes, what it answers, and to whom."""

import json
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError  # noqa: F401
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kits.models import Posting
from takeoff.models import Record, Site, User
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, member
from tests.kits.makers import at, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here", timezone="America/Chicago")


def person(site: Site | None, *roles: str, csrf: bool = False) -> Client:
    user = member(site, *roles, username=f"u{User.objects.count()}")
    client = Client(enforce_csrf_checks=csrf)
    client.force_login(user)
    return client


def send(client: Client, *records: dict, slug: str = "here", **more):
    batch = {"device": "phone 1", "clock": timezone.now().isoformat(), "records": list(records), **more}
    return client.post(f"/{slug}/records/", json.dumps(batch), content_type="application/json")


def issue(id_: str, quantity="1", item="LUG", run="NORTH", **more) -> dict:
    row = {"id": id_, "item": item, "quantity": quantity, "run": run, "stage": "seals", "at": at(2).isoformat()}
    return {"kind": "issues", "number": None, "row": {**row, **more}}


def count(id_: str, counted="9", bin_="Store", **more) -> dict:
    row = {"id": id_, "item": "LUG", "bin": bin_, "counted": counted, "at": at(1).isoformat(), **more}
    return {"kind": "counts", "row": row}


def answers(response) -> list[str]:
    assert response.status_code == 200, response.content
    return [one["answer"] for one in response.json()["records"]]


@pytest.fixture
def store(site):
    ItemFactory(site=site, code="LUG")
    RunFactory(site=site, name="NORTH")
    return person(site, "storekeeper")


def test_each_record_gets_its_own_answer_in_the_order_sent(store):
    response = send(store, issue("i1", "3"), count("c1"), issue("i2", "99"), issue("i3", "-1"), issue("i1", "3"))
    assert answers(response) == ["kept", "kept", "aside", "refused", "known"]
    aside, refused = response.json()["records"][2:4]
    assert aside["said"] == ["LUG: 99 each asked, 6 there (6 in Store)."]
    assert (refused["id"], refused["field"]) == ("i3", "quantity")
    assert Record.objects.count() == 3


def test_what_was_answered_once_is_answered_again_with_what_was_said(store, site):
    said = send(store, count("c1"), issue("i2", "99")).json()["records"]
    again = send(store, count("c1"), issue("i2", "99")).json()["records"]
    assert [one["answer"] for one in again] == ["known", "known"]
    assert again[1]["said"] == ["It waits to be placed.", *said[1]["said"]]
    other = send(store, count("c1", counted="8")).json()["records"][0]
    assert (other["answer"], other["field"]) == ("refused", "id")
    assert Posting.objects.of(site).count() == 1


def test_who_may_not_has_it_set_aside_for_whoever_may(store, site):
    purchaser = person(site, "purchaser")
    response = send(purchaser, count("c1"))
    assert answers(response) == ["aside"]
    assert response.json()["records"][0]["said"] == ["Who sent it may not receive, count and put away."]
    send(store, count("c2"))
    assert Posting.objects.of(site).count() == 1, "it waits for a person"


def test_signed_out_strangers_and_bad_tokens_are_told_so_in_json(site):
    assert send(Client()).status_code == 401
    assert send(person(None)).status_code == 404
    assert send(person(site, "viewer", csrf=True)).status_code == 403
    assert send(Client(enforce_csrf_checks=True)).status_code == 401
    for response in (send(Client()), send(person(None)), send(person(site, "viewer", csrf=True))):
        assert "error" in response.json()


@pytest.mark.parametrize(
    ("batch", "expected"),
    [
        ("{", "not JSON"),
        ("[]", "no object"),
        ('{"records": {}}', "no object"),
        ('{"records": [], "clock": "noon"}', "clock"),
        ('{"records": [], "clock": "2026-03-04T14:30:00"}', "time zone"),
        ('{"records": [], "device": 5}', "device"),
        ('{"records": [{"kind": "counts"}]}', "kind"),
        ('{"records": [{"kind": "counts", "row": {}, "number": true}]}', "whole number"),
        ('{"records": [{"kind": "counts", "row": {}, "after": [1]}]}', "list of ids"),
        ('{"records": [{"kind": "counts", "row": {"id": []}}]}', "A cell is"),
    ],
)
def test_a_batch_of_another_form_is_refused_whole(store, batch, expected):
    response = store.post("/here/records/", batch, content_type="application/json")
    assert response.status_code == 400
    assert expected in response.json()["error"]


def test_a_batch_has_an_end(store):
    assert send(store, *[count(f"c{n}") for n in range(201)]).status_code == 400
    long = "x" * (1024 * 1024)
    assert send(store, count("c", note=long)).status_code == 413
    assert store.get("/here/records/").status_code == 405


def test_a_record_of_no_kind_or_with_cells_that_cannot_be_read_is_refused(store):
    response = send(
        store,
        {"kind": "loans", "row": {"id": "x"}},
        count("c1", counted="NaN"),
        count("c2", counted=float("inf")),
        count("c3", colour="red"),
        {"kind": "counts", "row": {"id": "c4"}},
        count("c5", bin_="A\0B"),
    )
    assert answers(response) == ["refused"] * 6
    assert response.json()["records"][0]["field"] == "kind"
    assert Record.objects.count() == 0


def test_no_more_than_ten_thousand_records_an_hour_from_one_person(store, site, monkeypatch):
    monkeypatch.setattr("takeoff.records.services.MOST_AN_HOUR", 3)
    assert send(store, *[count(f"c{n}") for n in range(3)]).status_code == 200
    response = send(store, count("c9"))
    assert response.status_code == 429
    assert Record.objects.of(site).count() == 3


def test_a_phones_clock_is_put_right_and_both_times_are_kept(store, site):
    now = timezone.now()
    hour = timedelta(hours=1)
    row = count("c1")
    row["row"]["at"] = (now - 3 * hour).isoformat()
    response = send(store, row, clock=(now - 2 * hour).isoformat())
    (said,) = response.json()["records"][0]["said"]
    assert said == "The clock of the phone was 2 h 0 min slow; the time was put right."
    assert answers(response) == ["look"]
    record = Record.objects.of(site).get()
    assert abs(record.at - (now - hour)) < timedelta(seconds=5)
    assert record.row["at"] == (now - 3 * hour).isoformat().replace("+00:00", "+00:00")
    assert abs(record.device_at - (now - 2 * hour)) < timedelta(seconds=5)
    posting = Posting.objects.of(site).get()
    assert posting.at == record.at


def test_nothing_happens_in_the_future(store, site):
    row = count("c1")
    row["row"]["at"] = (timezone.now() + timedelta(days=2)).isoformat()
    send(store, row)
    assert Record.objects.of(site).get().at <= timezone.now()


def test_a_batch_takes_as_many_queries_however_large_it_is(store, site):
    """What is copied, a hundred rows and more, takes a query more a table: the keys are drawn before."""
    stocked(site.items.get(), 9999)

    def queries(amount: int, start: int) -> int:
        batch = [issue(f"i{start + n}", bin="Store") for n in range(amount)]
        with CaptureQueriesContext(connection) as captured:
            assert set(answers(send(store, *batch))) == {"kept"}
        return len(captured)

    queries(1, 0)
    few, many = queries(2, 10), queries(110, 1000)
    assert (queries(90, 2000), queries(190, 3000)) == (few, many)
    assert few <= many <= few + 3


def test_one_bad_record_among_many_costs_a_few_queries_more(store, site):
    stocked(site.items.get(), 500)
    batch = [issue(f"i{n}", bin="Store", quantity="400" if n in (7, 9) else "1") for n in range(150)]
    with CaptureQueriesContext(connection) as captured:
        found = answers(send(store, *batch))
    assert sorted(set(found)) == ["aside", "kept"]
    assert found.count("aside") == 2, "400 of 500 are gone when 150 have gone out one by one"
    assert len(captured) < 60


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ({"by": "x" * 121}, ["refused"]),
        ({"by": "a\x00b"}, ["refused"]),
        ({"bin": "a\x00b"}, ["refused"]),
        ({"item": "L\x00G"}, ["refused"]),
        ({"id": "i\x00"}, ["refused"]),
        ({"quantity": "1" + "0" * 30}, ["refused"]),
        ({"quantity": "1e300"}, ["refused"]),
        ({"at": "0001-01-01T00:00:00+14:00"}, ["refused"]),
        ({"at": "9999-12-31T23:59:59-12:00"}, ["refused"]),
        ({"bin": "ŉ" * 120}, ["aside"]),  # folded it is three times as long
        ({"b\x00y": "x"}, ["refused"]),
    ],
)
def test_what_no_database_takes_is_answered_and_not_an_error(store, cell, expected):
    stocked(ItemFactory(site=Site.objects.get(), code="BOLT"), 1)
    assert answers(send(store, issue("i1", **cell))) == expected


@pytest.mark.parametrize("long", ["x" * 81, "a\x00b"])
def test_an_id_that_it_hangs_on_is_a_short_text(store, long):
    assert send(store, {**issue("i1"), "after": [long]}).status_code == 400
    assert send(store, issue("i1"), device="a\x00b").status_code == 400


def test_what_is_moved_to_where_it_lies_is_refused(store):
    row = {"id": "t", "item": "LUG", "quantity": "1", "source": "Store", "target": " STORE", "at": at(2).isoformat()}
    send(store, count("c1"))
    [answer] = send(store, {"kind": "transfers", "row": row}).json()["records"]
    assert (answer["answer"], answer["field"]) == ("refused", "target")
