"""Receiving as a storekeeper does it on a page: trucks, one shipment, one crate, without any script."""

import re
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kits.models import Arrival, Receipt, ReceiptLine
from kits.receiving.pages import crate_page, shipment_page, trucks
from kits.receiving.queries import delivery_report
from takeoff.models import Site
from takeoff.records.services import keep_one
from tests.factories.kits import KitFactory, KitLineFactory, PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, member
from tests.kits.makers import at, counted, lying, received

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def crate(site):
    shipment = ShipmentFactory(site=site, name="S-1")
    package = PackageFactory(shipment=shipment, name="Crate 1")
    for code, quantity in (("LUG", 40), ("CAP", 12), ("BAND", 7)):
        PackingLineFactory(
            shipment=shipment, package=package, item=ItemFactory(site=site, code=code), quantity=quantity
        )
    return package


@pytest.fixture
def store(client, site):
    client.force_login(member(site, "storekeeper"))
    return client


def of(crate) -> str:
    return reverse("receiving_package", args=["here", crate.shipment_id, crate.pk])


def form_of(page: str, said: str) -> dict[str, str]:
    """The fields of the one form of a page that holds a text, as a browser sends them untouched."""
    (form,) = [form for form in re.findall(r"<form.*?</form>", page, re.S) if said in form]
    fields = {}
    for tag in re.findall(r"<input[^>]*>", form):
        parts = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if parts.get("type") in {"checkbox", "radio"} and "checked" not in tag:
            continue
        fields[parts["name"]] = unescape(parts.get("value", ""))
    return fields


def press(client, crate, said: str, **typed):
    page = client.get(of(crate)).content.decode()
    return client.post(reverse("act", args=["here", "receipts"]), form_of(page, said) | typed)


def test_a_line_as_listed_is_one_touch_and_pressing_twice_counts_once(store, crate):
    page = store.get(of(crate)).content.decode()
    assert "3 of 3 to count" in page
    fields = form_of(page, "40 counted")
    for _ in range(2):
        assert store.post(reverse("act", args=["here", "receipts"]), fields).status_code == 302
    assert Receipt.objects.count() == 1
    page = store.get(of(crate)).content.decode()
    assert "2 of 3 to count" in page
    assert "40 counted" not in re.sub(r"<[^>]*>", "", page).replace("Counted: 40", "")


def test_what_is_worth_much_is_counted_before_the_list_is_seen(store, site, crate):
    item = crate.shipment.lines.get(item__code="LUG").item
    item.unit_cost = 501  # 40 of 5.01 are 200.40
    item.save()
    page = store.get(of(crate)).content.decode()
    assert "Count it first" in page
    assert "40" not in re.sub(r"<[^>]*>", "", page)
    grid = store.get(reverse("receiving_grid", args=["here", crate.shipment_id])).content.decode()
    assert "after yours" in grid
    fields = form_of(page, f'id="own{item.pk}"') | {"counted": "38"}
    assert store.post(reverse("act", args=["here", "receipts"]), fields).status_code == 302
    assert "38 of 40" in " ".join(re.sub(r"<[^>]*>", "", store.get(of(crate)).content.decode()).split())
    item.unit_cost = 500
    item.save()
    assert not any(row.blind for row in crate_page(crate.shipment, crate).rows)


def test_some_good_and_some_damaged_are_one_act(store, crate):
    page = store.get(of(crate)).content.decode()
    lug = crate.shipment.lines.get(item__code="LUG").item
    fields = form_of(page, f'id="good{lug.pk}"') | {"1-counted": "37", "2-counted": "3"}
    answer = store.post(reverse("act", args=["here", "receipts"]), fields)
    assert answer.status_code == 302
    assert lying(lug)["bin Store"] == 37
    assert lying(lug)["quarantine Quarantine, damaged"] == 3
    (row,) = [row for row in crate_page(crate.shipment, crate).rows if row.item == lug]
    assert (row.report.good, row.report.damaged, row.report.short) == (370_000, 30_000, 0)


def test_something_no_catalogue_names_is_told_and_moves_nothing(store, site, crate):
    item = crate.shipment.lines.get(item__code="CAP").item
    page = store.get(of(crate)).content.decode()
    fields = form_of(page, f'id="came{item.pk}"') | {"counted": "12", "came_text": "blue rubber feet"}
    asked = store.post(reverse("act", args=["here", "receipts"]), fields)
    assert asked.status_code == 422
    fields["confirmed"] = asked.context["asked"].question
    assert store.post(reverse("act", args=["here", "receipts"]), fields).status_code == 302
    assert lying(item) == {}
    told = ReceiptLine.objects.get()
    assert (told.came_text, told.covers) == ("blue rubber feet", 0)
    (exception,) = delivery_report(crate.shipment).exceptions
    assert exception.report.wrong == (("blue rubber feet", 120_000),)


def test_boxes_make_the_count_or_are_refused(store, site, crate):
    item = crate.shipment.lines.get(item__code="LUG").item
    base = {"shipment": "S-1", "package": "Crate 1", "item": "LUG"}

    def count(id_, **cells):
        return store.post(reverse("act", args=["here", "receipts"]), {"id": id_, **base, **cells})

    assert "how many a box holds" in count("a", boxes="2").content.decode()
    assert "make 41, not 40" in count("b", boxes="2", per_box="20", loose="1", counted="40").content.decode()
    assert "Say how many came" in count("c").content.decode()
    assert count("d", boxes="1", per_box="20", loose="18").status_code == 302
    assert lying(item)["bin Store"] == 38


def test_a_crate_left_as_listed_is_one_act_and_is_opened_later(store, crate):
    assert press(store, crate, "not opened: 3 lines").status_code == 302
    page = store.get(of(crate)).content.decode()
    assert "all 3 counted" in page
    assert "as listed, not opened" in page
    lug = crate.shipment.lines.get(item__code="LUG").item
    fields = form_of(page, f'id="good{lug.pk}"') | {"1-counted": "38"}
    assert store.post(reverse("act", args=["here", "receipts"]), fields).status_code == 302
    assert lying(lug)["bin Store"] == 38


def test_what_nobody_counted_is_closed_only_by_name(store, crate):
    press(store, crate, "40 counted")
    page = store.get(of(crate)).content.decode()
    named = re.search(r"closed as short.*?</ul>", page, re.S)[0]
    assert [re.search(r'item"\s+value="(\w+)', line)[1] for line in named.split("</li>")[:-1]] == ["CAP", "BAND"]
    assert press(store, crate, "They did not come").status_code == 302
    assert [line.report.short for line in delivery_report(crate.shipment).lines] == [0, 120_000, 70_000]


def test_counted_meanwhile_is_asked_and_neither_added_nor_lost(store, crate):
    fields = form_of(store.get(of(crate)).content.decode(), "40 counted")
    received(crate.shipment, counted("LUG", 40, package=crate))
    answer = store.post(reverse("act", args=["here", "receipts"]), fields)
    assert answer.status_code == 422
    assert "the same goods counted again, or further goods?" in answer.content.decode()


def test_the_last_month_is_its_last_day(store, site, crate):
    fields = {"id": "a", "shipment": "S-1", "item": "CAP", "counted": "12", "lot": "L7", "expires": "2028-02"}
    assert store.post(reverse("act", args=["here", "receipts"]), fields).status_code == 302
    assert crate.shipment.lines.get(item__code="CAP").item.lots.get().expires == date(2028, 2, 29)


def test_trucks_stand_in_the_order_of_the_day_and_reels_are_a_truck(store, site, crate):
    ShipmentFactory(site=site, name="S-2", expected=date(2026, 12, 3))
    ReelFactory(site=site, tag="R-1", state="on the way", delivery="S-7", feet=900)
    found = trucks(site)
    assert [truck.name for truck in found.to_come] == ["S-2", "S-1", "S-7"]
    Arrival.objects.create(
        shipment=crate.shipment, event_id="a", at="2026-12-01T10:00Z", recorded_at="2026-12-01T10:00Z"
    )
    received(crate.shipment, counted("LUG", 40, package=crate))
    (here,) = trucks(site).here
    assert (here.name, here.to_count, here.lines) == ("S-1", 2, 3)
    page = store.get(reverse("receiving", args=["here"])).content.decode()
    assert "1 here to count" in page
    assert "R-1" in page


def test_kits_are_held_against_what_is_promised_and_listed(site, crate):
    kit = KitFactory(site=site, name="K-1")
    line = crate.shipment.lines.get(item__code="LUG")
    line.kit = kit
    line.save()
    KitLineFactory(kit=kit, item=line.item, quantity=50)
    (row,) = shipment_page(crate.shipment).kits
    assert (row.promised, row.shipped, row.needed, row.differs) == (500_000, 400_000, None, True)


def test_who_may_only_look_finds_no_form(client, site, crate):
    client.force_login(member(site, "viewer"))
    page = client.get(of(crate)).content.decode()
    assert "40" in page
    assert 'data-record="receipts"' not in page
    assert (
        "The truck is here"
        not in client.get(reverse("receiving_shipment", args=["here", crate.shipment_id])).content.decode()
    )


def test_the_gate_says_what_to_write_without_any_script(client, site, crate):
    client.force_login(member(site, "foreman"))
    at_gate = reverse("gate", args=["here", crate.shipment_id])
    assert "Count, and tick" in client.get(at_gate).content.decode()
    page = client.get(at_gate + "?count=1&damaged=Crate+1&words=others").content.decode()
    assert "Damaged outside: Crate 1, contents not checked." in unescape(page)
    fields = form_of(page, "Take the truck in")
    assert fields["damaged"] == "Crate 1"
    assert client.post(reverse("act", args=["here", "arrivals"]), fields).status_code == 302
    assert (
        "damaged outside"
        in client.get(reverse("receiving_shipment", args=["here", crate.shipment_id])).content.decode()
    )


@pytest.mark.parametrize("page", ["crate", "shipment", "list", "gate", "grid"])
def test_a_page_asks_as_often_for_three_hundred_lines_as_for_ten(client, site, page):
    client.force_login(member(site, "planner"))

    def asked(number: int, lines: int) -> int:
        shipment = ShipmentFactory(site=site, name=f"Z{number}")
        package = PackageFactory(shipment=shipment, name="C")
        kit = KitFactory(site=site, name=f"K{number}")
        items = [ItemFactory(site=site, code=f"I{number}-{n}") for n in range(lines)]
        for item in items:
            PackingLineFactory(shipment=shipment, package=package, item=item, quantity=2, kit=kit)
        if page == "list":
            for n in range(lines // 3):
                ShipmentFactory(site=site, name=f"Y{number}-{n}")
        urls = {
            "crate": reverse("receiving_package", args=["here", shipment.pk, package.pk]),
            "shipment": reverse("receiving_shipment", args=["here", shipment.pk]),
            "list": reverse("receiving", args=["here"]),
            "gate": reverse("gate", args=["here", shipment.pk]),
            "grid": reverse("receiving_grid", args=["here", shipment.pk]),
        }
        client.get(urls[page])
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(urls[page]).status_code == 200
        return len(queries)

    assert asked(1, 10) == asked(2, 60)


def test_the_grid_keeps_each_row_by_itself(store, site, crate):
    lug = crate.shipment.lines.get(item__code="LUG").item
    PackingLineFactory(shipment=crate.shipment, item=lug, quantity=5)
    page = store.get(reverse("receiving_grid", args=["here", crate.shipment_id])).content.decode()
    forms = re.findall(r"<form.*?</form>", page, re.S)
    row = next(form for form in forms if 'value="LUG"' in form and 'value="Crate 1"' in form)
    fields = {name: unescape(value) for name, value in re.findall(r'name="([\w-]+)"\s+value="([^"]*)"', row)}
    fields |= {"1-counted": "38", "2-counted": "2"}
    assert store.post(reverse("act", args=["here", "receipts"]), fields).status_code == 302
    assert lying(lug)["bin Store"] == 38
    page = store.get(reverse("receiving_grid", args=["here", crate.shipment_id])).content.decode()
    assert 'name="again" value="same"' in re.sub(r"\s+", " ", page)


def test_a_reel_whose_truck_came_is_here_and_not_looked_at(store, site, crate):
    ReelFactory(site=site, tag="R-9", state="on the way", delivery=crate.shipment.name, feet=900)
    url = reverse("receiving_reels", args=["here"]) + f"?delivery={crate.shipment.name}"
    assert "1 reel to come" in " ".join(store.get(url).content.decode().split())
    row = {"id": "T", "shipment": crate.shipment.name, "count": "1", "at": at(2)}
    keep_one(site=site, kind="arrivals", row=row)
    page = " ".join(store.get(url).content.decode().split())
    assert "1 reel not looked at" in page
    assert "Here, not looked at: bring it, do not cut it" in page
    of_shipment = store.get(reverse("receiving_shipment", args=["here", crate.shipment_id])).content.decode()
    assert "here, not looked at" in of_shipment
