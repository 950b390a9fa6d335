"""The office's page of records that wait, the form made from a declaration, and the page of documentation."""

from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from kits.models import Posting
from takeoff.models import AsideEnd, SetAside
from takeoff.records.forms import RecordForm
from takeoff.records.kind_words import describe_kinds
from takeoff.records.record_kinds import kinds
from takeoff.sheets.cells.kinds import Reading
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, UserFactory, member
from tests.kits.makers import lying, stocked
from tests.takeoff.records.test_answers import PLANNER, sent, take

DOCS = Path(__file__).resolve().parents[3] / "docs" / "records.md"
pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(slug="here")


def enter(site, role: str) -> Client:
    user = member(site, role, username=role)
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def waits(site) -> SetAside:
    stocked(ItemFactory(site=site, code="LUG"), 5, "A")
    RunFactory(site=site, name="NORTH")
    user = UserFactory(username="sam")
    take(site=site, sender=user, roles=PLANNER, sent=[sent("issues", "i", bin="B", by="Crew A")], device="phone")
    return SetAside.objects.get()


def test_what_waits_is_listed_with_its_reason(site, waits):
    text = enter(site, "viewer").get(reverse("waiting_records", args=["here"])).content.decode()
    assert "1 to place" in text
    assert "There is no bin &#x27;B&#x27;" in text
    empty = enter(SiteFactory(slug="there"), "foreman").get(reverse("waiting_records", args=["there"])).content.decode()
    assert "Nothing waits." in empty


def test_whoever_owns_it_places_it_by_a_row_that_says_it_right(site, waits):
    page = reverse("waiting_record", args=["here", waits.pk])
    client = enter(site, "storekeeper")
    form = client.get(page).context["form"]
    row = {name: form.get_initial_for_field(field, name) or "" for name, field in form.fields.items()}
    assert (row["bin"], row["by"], row["quantity"]) == ("B", "Crew A", "1")
    wrong = client.post(page, {**row, "quantity": "many"})
    assert wrong.status_code == 422
    assert "Write a number" in wrong.content.decode()
    still = client.post(page, row)
    assert (still.status_code, "There is no bin" in still.content.decode()) == (422, True)
    assert client.post(page, {**row, "bin": "A"}).status_code == 302
    assert lying(site.items.get())["handed_out NORTH seals"] == 1
    assert AsideEnd.objects.get().how == "placed"
    assert client.get(page).status_code == 404, "it waits no longer"


def test_whoever_owns_it_drops_it_with_a_reason(site, waits):
    page = reverse("waiting_record", args=["here", waits.pk])
    client = enter(site, "foreman")
    assert client.post(page, {"drop": "yes", "reason": ""}).status_code == 422
    assert client.post(page, {"drop": "yes", "reason": "sent twice"}).status_code == 302
    assert AsideEnd.objects.get().reason == "sent twice"
    assert Posting.objects.filter(kind="issue").count() == 0


def test_who_does_not_own_it_sees_it_and_no_more(site, waits):
    page = reverse("waiting_record", args=["here", waits.pk])
    client = enter(site, "purchaser")
    assert "Put it into the books" not in client.get(page).content.decode()
    assert client.post(page, {"drop": "yes", "reason": "x"}).status_code == 403


@pytest.mark.parametrize("name", [kind for kind in kinds() if kind != "reversals"])
def test_every_kind_has_a_form_with_a_field_a_column(name):
    kind = kinds()[name]
    form = RecordForm({}, kind=kind, reading=Reading())
    assert list(form.fields) == [column.name for column in kind.columns]
    required = {column.name for column in kind.columns if column.required}
    assert set(form.errors) == required


def test_the_documentation_lists_every_kind():
    assert DOCS.read_text().endswith(f"## Kinds\n\n{describe_kinds()}")
