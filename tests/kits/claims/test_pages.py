"""Claims as they are followed on pages, and the report of a delivery, without any script."""

import io
import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from kits.models import Claim, ClaimStep, OrderLine
from takeoff.models import SetAside, Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from tests.factories.kits import PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, member

pytestmark = pytest.mark.django_db
NOW = datetime.now(tz=UTC)


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


def keep(site, kind, id_, hours=2, **row):
    keep_one(site=site, kind=kind, row={"id": id_, "at": NOW - timedelta(hours=hours), **row})


@pytest.fixture
def shipment(site):
    shipment = ShipmentFactory(site=site, name="S-1")
    crate = PackageFactory(shipment=shipment, name="Crate 1")
    PackageFactory(shipment=shipment, name="Crate 2")
    for code in ("LUG", "CAP", "BAND"):
        item = ItemFactory(site=site, code=code, description="=1+1" if code == "CAP" else "")
        PackingLineFactory(shipment=shipment, package=crate, item=item, quantity=10)
    words = {"words": "others", "written": "Crate 1 wet", "by": "N. Gate"}
    keep(site, "arrivals", "T1", 9, shipment="S-1", count="1", missing="Crate 2", damaged="Crate 1", **words)
    said = {"shipment": "S-1", "package": "Crate 1", "by": "A. Counter"}
    keep(site, "receipts", "r1", 8, item="LUG", counted="7", **said)
    keep(site, "receipts", "r2", 8, item="CAP", counted="10", condition="damaged", note="=cmd", **said)
    return shipment


@pytest.fixture
def enter(client, site):
    def signed_in(role):
        client.force_login(member(site, role, username=role))
        return client

    return signed_in


def text_of(answer) -> str:
    assert answer.status_code == 200
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answer.content.decode())))


def fields_of(page: str, said: str) -> dict[str, str]:
    """The hidden fields of the one form that holds a text."""
    (form,) = [form for form in re.findall(r"<form.*?</form>", page, re.S) if said in form]
    tags = [dict(re.findall(r'([\w-]+)="([^"]*)"', tag)) for tag in re.findall(r"<input[^>]*>", form)]
    return {tag["name"]: unescape(tag.get("value", "")) for tag in tags if tag.get("type") == "hidden"}


def undo_of(page: str, event: str) -> dict[str, str]:
    """The fields of the form that takes a step back."""
    forms = [form for form in re.findall(r"<form.*?</form>", page, re.S) if f'value="{event}"' in form]
    tags = [dict(re.findall(r'([\w-]+)="([^"]*)"', tag)) for tag in re.findall(r"<input[^>]*>", forms[-1])]
    return {tag["name"]: unescape(tag.get("value", "")) for tag in tags}


def test_the_report_keeps_what_was_said_at_the_gate_apart_from_what_was_found(enter, shipment):
    text = text_of(enter("viewer").get(reverse("receiving_report", args=["here", shipment.pk])))
    assert "S-1: 1 short, 1 damaged" in text
    gate, found = text.split("Found later, at counting")
    assert "1 here; missing: Crate 2; damaged outside: Crate 1" in gate
    assert "with “Crate 1 wet”, by N. Gate" in gate
    assert "A. Counter" in found
    assert "NMFC item 300135-A" in found
    assert "the carrier's own terms govern" in found
    rest = found.split("Not counted is no zero")[1]
    assert "BAND" in rest
    assert "LUG" not in rest


def test_a_clean_receipt_is_called_one(enter, site, shipment):
    keep(site, "arrivals", "T2", 1, shipment="S-1", count="2", words="nothing")
    report = reverse("receiving_report", args=["here", shipment.pk])
    assert "clean receipt: nothing was written" in text_of(enter("viewer").get(report))


def test_a_shipment_of_which_nothing_is_known_has_a_report(enter, site):
    bare = ShipmentFactory(site=site, name="S-9")
    client = enter("viewer")
    assert "S-9: nothing wrong so far" in text_of(client.get(reverse("receiving_report", args=["here", bare.pk])))
    assert client.get(reverse("receiving_report_sheet", args=["here", bare.pk])).status_code == 200


def test_the_workbook_says_the_same_and_starts_no_formula(enter, shipment):
    answer = enter("viewer").get(reverse("receiving_report_sheet", args=["here", shipment.pk]))
    assert answer["Content-Type"].startswith("application/vnd.openxmlformats")
    book = load_workbook(io.BytesIO(answer.content))
    rows = [tuple(cell.value for cell in row) for row in book["Report"].iter_rows(min_row=6)]
    assert [row[:2] + row[4:7] for row in rows] == [
        ("short", "LUG", 10, 7, 3),
        ("damaged", "CAP", 10, 10, 10),
        ("not counted", "BAND", 10, None, 10),
    ]
    assert rows[1][2] == "'=1+1"
    assert rows[1][8] == "'=cmd"
    assert not [cell for sheet in book for row in sheet for cell in row if cell.data_type == "f"]
    assert "Crate 1 wet" in {cell.value for row in book["At the gate"] for cell in row}


def test_a_claim_is_opened_followed_and_settled_by_buttons(enter, site, shipment):
    client = enter("planner")
    listed = reverse("claims", args=["here"])
    page = client.get(listed).content.decode()
    assert "No open claim, 1 still to make" in page
    fields = fields_of(page, "Carrier is told") | {"step": "told the carrier"}
    for _ in range(2):
        assert client.post(reverse("act", args=["here", "claim_steps"]), fields).status_code == 302
    claim = Claim.objects.of(site).get()
    assert "1 open claim" in text_of(client.get(listed))
    at = reverse("claim", args=["here", claim.pk])
    page = client.get(at)
    assert "Claim 1 of S-1: 1 short, 1 damaged" in text_of(page)
    assert "File the claim by" in text_of(page)
    fields = fields_of(page.content.decode(), "What was done") | {"step": "filed", "reference": "CL-77", "at": ""}
    assert client.post(reverse("act", args=["here", "claim_steps"]), fields).status_code == 302
    assert "They should decide by" in text_of(client.get(at))
    wrong = fields | {"id": "w", "step": "acknowledged", "amount": "12.50", "note": "by phone"}
    answer = client.post(reverse("act", args=["here", "claim_steps"]), wrong)
    assert answer.status_code == 422
    assert "Only a claim that is settled has an amount" in unescape(answer.content.decode())
    assert 'value="by phone"' in answer.content.decode(), "what was typed is still there"
    settled = fields | {"id": "s", "step": "settled by replacement"}
    assert client.post(reverse("act", args=["here", "claim_steps"]), settled).status_code == 302
    assert "Order S-1 claim 1, free of charge, brings what it asks for" in text_of(client.get(at))
    page = client.get(at).content.decode()
    undo = undo_of(page, "s")
    assert client.post(reverse("act", args=["here", "reversals"]), undo | {"reason": "wrong"}).status_code == 302
    assert OrderLine.objects.of(site).first().order.state == "cancelled"
    assert "Hear that the carrier has it by" in text_of(client.get(at))


def test_amounts_show_to_purchaser_and_planner_only(client, site, shipment):
    said = {"shipment": "S-1", "step": "settled by credit", "amount": "12.34"}
    keep(site, "claim_steps", "c", 1, **said)
    at = reverse("claim", args=["here", Claim.objects.of(site).get().pk])
    for role in ("storekeeper", "purchaser", "planner"):
        client.force_login(member(site, role, username=role))
        assert ("12.34" in client.get(at).content.decode()) == (role != "storekeeper"), role


def test_an_amount_that_waits_to_be_placed_shows_to_nobody_else_either(client, site, shipment):
    row = {"id": "c", "shipment": "S-1", "step": "settled by credit", "amount": "12.34", "at": NOW.isoformat()}
    sender = member(site, "foreman", username="foreman")
    take(site=site, sender=sender, roles=frozenset({"foreman"}), sent=[Sent("claim_steps", row)])
    at = reverse("waiting_record", args=["here", SetAside.objects.of(site).get().pk])
    for role in ("viewer", "storekeeper", "purchaser"):
        client.force_login(member(site, role, username=role))
        assert ("12.34" in client.get(at).content.decode()) == (role == "purchaser"), role
        placed = client.post(at, {**row, "id": "p"}).status_code
        assert placed == (302 if role == "purchaser" else 403)
    assert ClaimStep.objects.of(site).get().amount == 1234


@pytest.mark.parametrize("role", ["storekeeper", "foreman", "viewer"])
def test_today_leads_to_the_claim_or_to_the_report(enter, site, shipment, role):
    client = enter(role)
    today = client.get(reverse("today", args=["here"]))
    assert "tell the carrier of hidden damage" in text_of(today)
    keep(site, "claim_steps", "c", 1, shipment="S-1", step="filed")
    page = client.get(reverse("today", args=["here"])).content.decode()
    own = reverse("claim", args=["here", Claim.objects.of(site).get().pk])
    report = reverse("receiving_report", args=["here", shipment.pk])
    assert (own in page, report in page) == ((True, False) if role == "storekeeper" else (False, True))
    assert client.get(own).status_code == (200 if role == "storekeeper" else 403)


def test_a_claim_of_another_site_is_not_there(enter, site):
    other = ShipmentFactory(site=SiteFactory(slug="there"), name="S-1")
    PackingLineFactory(shipment=other, item=ItemFactory(site=other.site, code="LUG"), quantity=10)
    keep(other.site, "receipts", "r", shipment="S-1", item="LUG", counted="7")
    keep(other.site, "claim_steps", "c", 1, shipment="S-1", step="filed")
    claim = Claim.objects.of(other.site).get()
    client = enter("planner")
    assert client.get(reverse("claim", args=["here", claim.pk])).status_code == 404
    assert client.get(reverse("receiving_report", args=["here", other.pk])).status_code == 404
    assert "Nothing to claim" in text_of(client.get(reverse("claims", args=["here"])))


@pytest.mark.parametrize("page", ["report", "report.xlsx", "claims", "claim", "today"])
def test_a_page_asks_as_often_for_many_rows_as_for_few(client, site, page):
    client.force_login(member(site, "planner"))

    def asked(number: int, rows: int) -> int:
        for n in range(rows if page in {"claims", "today"} else 1):
            shipment = ShipmentFactory(site=site, name=f"Z{number}-{n}")
            for m in range(2 if page in {"claims", "today"} else rows):
                item = ItemFactory(site=site, code=f"I{number}-{n}-{m}")
                PackingLineFactory(shipment=shipment, item=item, quantity=4)
                keep(site, "receipts", f"r{number}-{n}-{m}", 5, shipment=shipment, item=item, counted="3")
            if n % 2 or page == "claim":
                keep(site, "claim_steps", f"c{number}-{n}", 1, shipment=shipment, step="filed")
        claim = Claim.objects.of(site).order_by("-pk").first()
        urls = {
            "report": reverse("receiving_report", args=["here", shipment.pk]),
            "report.xlsx": reverse("receiving_report_sheet", args=["here", shipment.pk]),
            "claims": reverse("claims", args=["here"]),
            "claim": reverse("claim", args=["here", claim.pk if claim else 1]),
            "today": reverse("today", args=["here"]),
        }
        client.get(urls[page])
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(urls[page]).status_code == 200
        return len(queries)

    assert asked(1, 4) == asked(2, 12)
