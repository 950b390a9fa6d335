"""Forms, filters and downloads of the pages, with good and bad input."""

import io
from datetime import UTC, date, datetime

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from kits.overview.today import ORDER, due
from kits.shortages.reckon.lines import CAUSES, Delivery, Reconciliation, ShortItem, ShortLine, StageReadiness
from takeoff.models import Cable, Item, Member, Run, Supplier
from tests.factories.kits import PackingLineFactory, PostingFactory, ReceiptLineFactory, ShipmentFactory
from tests.factories.takeoff import RunFactory, SiteFactory, member

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("listed", ["runs", "stock", "stock_places", "shortages"])
@pytest.mark.parametrize(
    "asked",
    [
        "?sort=nonsense&page=zzz",
        "?page=999999",
        "?page=-1",
        "?q=%00%27%22%3Cscript%3E",
        "?cable=abc&location=nowhere&voltage_class=1&open_stage=x&group=zz&kind=zz&supplier=zz&cause=zz&run=zz",
        "?sort=cost&sort=-code&sort=..%2F",
        "?q=" + "x" * 5000,
    ],
    ids=["no such sorting", "far page", "negative page", "markup", "no such choice", "odd sorting", "long"],
)
def test_a_list_answers_whatever_is_asked(enter, listed, asked):
    answer = enter("planner").get(reverse(listed, args=["here"]) + asked)
    assert answer.status_code == 200
    assert "<script>" not in answer.content.decode()


def test_runs_are_found_filtered_and_sorted(enter, site):
    client = enter("viewer")
    cable = Cable.objects.of(site).get()
    for name, to, location in (("CB-2", "MCC-7", "outdoor"), ("CB-3", "SG-9", "indoor")):
        RunFactory(site=site, name=name, to_equipment=to, cable=cable, location=location)

    def names(query: str) -> list[str]:
        table = client.get(reverse("runs", args=["here"]) + query).context["table"]
        return [row.record.name for row in table.rows]

    assert names("") == ["CB-1", "CB-2", "CB-3"]
    assert names("?q=mcc-7") == ["CB-2"]
    assert names("?location=outdoor") == ["CB-2"]
    assert names("?sort=-name") == ["CB-3", "CB-2", "CB-1"]
    assert names("?open_stage=covers&q=nothing") == []
    assert "Show all" in client.get(reverse("runs", args=["here"]) + "?q=x").content.decode()


def test_prices_show_only_to_those_who_may_see_them(client, site):
    item = Item.objects.of(site).get(code="CAP")
    for role in Member.Role:
        user = member(site, role, username=role.value)
        client.force_login(user)
        sees = role in {Member.Role.PURCHASER, Member.Role.PLANNER}
        for page in (
            reverse("stock_item", args=["here", item.pk]),
            reverse("shortage", args=["here", item.pk]),
            reverse("shortages", args=["here"]),
        ):
            text = client.get(page).content.decode()
            assert ("2.50 USD" in text or "25.00 USD" in text) == sees, (role, page)


def test_the_workbook_is_one_suppliers_and_only_for_who_orders(enter, site):
    supplier = Supplier.objects.of(site).get()
    client = enter("purchaser")
    answer = client.get(reverse("reorder_workbook", args=["here", supplier.pk]))
    assert answer["Content-Type"].startswith("application/vnd.openxmlformats")
    assert "reorder-s-sons-" in answer["Content-Disposition"]
    book = load_workbook(io.BytesIO(answer.content))
    assert "CAP" in {cell.value for sheet in book for row in sheet for cell in row}
    assert client.get(reverse("reorder_workbook", args=["here", 0])).status_code == 404


def test_today_reads_in_the_order_of_the_role():
    day = date(2026, 5, 4)
    zero = dict.fromkeys(
        (
            *(
                "takeoff",
                "drawn",
                "promised",
                "ordered",
                "shipped",
                "counted",
                "rejected",
                "on_hand",
                "usable",
                "issued",
            ),
            *("used", "inbound", "need", "need_expected", "need_covered", "short", "order", "learned", "timing"),
        ),
        0,
    )
    coming = (
        Delivery("shipment", "S-1", 5, date(2026, 5, 1), late=True),
        Delivery("shipment", "S-1", 5, date(2026, 5, 1)),
    )
    line = ShortLine(
        ShortItem(1, "A"), **zero, short_on=None, order_by=None, causes=dict.fromkeys(CAUSES, 0), deliveries=coming
    )
    stages = tuple(
        StageReadiness(1, "R", stage, planned, state)
        for stage, planned, state in (
            ("enclosure", date(2026, 4, 1), "done"),
            ("cables", date(2026, 5, 3), "ready"),
            ("seals", date(2026, 5, 18), "blocked by"),
            ("covers", date(2026, 5, 19), "blocked by"),
            ("terminations", None, "blocked by"),
        )
    )
    found = Reconciliation("here", day, lines=(line,), readiness=stages)
    for role, order in ORDER.items():
        assert due(found, frozenset({role})).order == order
    shown = due(found, frozenset({"viewer"}))
    assert [line.row.stage for line in shown.work] == ["cables", "seals"], "open and planned within two weeks"
    (arrival,) = shown.deliveries
    assert (arrival.name, [item.code for item in arrival.items], arrival.late) == ("S-1", ["A"], True)


@pytest.mark.parametrize(
    ("listed", "said"),
    [
        ("today", "No stage is planned within two weeks"),
        ("runs", "No runs yet"),
        ("stock", "No items yet"),
        ("stock_places", "No places yet"),
        ("shortages", "Nothing runs short"),
        ("rules", "No rules yet"),
    ],
)
def test_an_empty_site_says_what_to_do_next(client, listed, said):
    empty = SiteFactory(slug="new", name="New")
    user = member(empty, "planner", username="planner")
    client.force_login(user)
    text = client.get(reverse(listed, args=["new"])).content.decode()
    assert said in text
    assert 'class="empty"' in text


def test_pages_are_served_under_a_policy_without_inline_script_or_style(enter, site):
    answer = enter("planner").get(reverse("run", args=["here", Run.objects.of(site).get().pk]))
    policy = answer["Content-Security-Policy"]
    assert "unsafe-inline" not in policy
    assert "unsafe-eval" not in policy
    text = answer.content.decode()
    assert " style=" not in text
    assert "<style" not in text
    assert "<script>" not in text
    assert " onclick" not in text
    assert answer["X-Frame-Options"] == "DENY"


def test_deliveries_that_were_not_as_listed_show_until_the_claim_runs_out(site):
    from datetime import timedelta

    from kits.claims.queries import still_open

    supplier = Supplier.objects.of(site).get()
    item = Item.objects.of(site).get(code="CAP")
    now = datetime.now(tz=UTC)
    for name, days, counted in (("S-1", 1, 4), ("S-2", 30, 4), ("S-3", 400, 4), ("S-4", 1, 10)):
        shipment = ShipmentFactory(site=site, name=name, supplier=supplier)
        line = PackingLineFactory(shipment=shipment, item=item, quantity=10)
        at = now - timedelta(days=days)
        posting = PostingFactory(site=site, event_id=name, kind="receipt", at=at)
        ReceiptLineFactory(packing_line=line, receipt__posting=posting, counted=counted)
    _claims, found = still_open(site)
    assert [one.shipment.name for one in found] == ["S-1", "S-2"], "as listed, and too long ago, are left out"
    assert [one.next.step.name for one in found] == ["TOLD", "FILED"]
    assert found[0].what == [("short", 1)]
