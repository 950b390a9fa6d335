"""The hand-out window on a page: stages to serve, the pick list, borrowing, what comes back."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kits.issuing.pages import pick_list, stages_to_serve
from kits.issuing.queries import debts
from kits.models import Move
from takeoff.models import Site, Stage, Takeoff
from tests.factories.kits import KitFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, TakeoffFactory, TakeoffLineFactory, member
from tests.kits.makers import counted, handed, lying, received, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def run(site):
    found = RunFactory(site=site, name="CB-1")
    Stage.objects.create(run=found, stage="seals", planned=site.today() + timedelta(days=3))
    return found


def need(run, item, quantity, stage="seals"):
    takeoff = Takeoff.objects.filter(run=run).first() or TakeoffFactory(run=run)
    TakeoffLineFactory(takeoff=takeoff, item=item, stage=stage, quantity=quantity)


@pytest.fixture
def store(client, site):
    client.force_login(member(site, "storekeeper"))
    return client


def boxed(site, item, quantity, run):
    """So many of an item in the kit box of a run."""
    kit = KitFactory(site=site, name=f"kit {run}", run=run)
    shipment = ShipmentFactory(site=site)
    PackingLineFactory(shipment=shipment, item=item, quantity=quantity, kit=kit)
    received(shipment, counted(item, quantity))


def test_the_list_takes_boxes_first_then_bins_and_names_what_lacks(site, run):
    item = ItemFactory(site=site, code="LUG")
    need(run, item, 20)
    boxed(site, item, 8, run)
    stocked(item, 7, "Shelf 4")
    (row,) = pick_list(site, run, "seals").rows
    assert [(one.place, one.quantity) for one in row.taken] == [("kit CB-1", 80_000), ("Shelf 4", 70_000)]
    assert (row.open, row.lacking) == (200_000, 50_000)


def test_a_crew_is_named_in_one_field_and_offered_from_then_on(site, run, store):
    item = ItemFactory(site=site, code="LUG")
    need(run, item, 2)
    stocked(item, 7, "Shelf 4")
    url = reverse("add_name", args=["here"])
    for name in ("Night shift", "  night  SHIFT ", "Crew A", "", "   ", "x" * 61, "one, two"):
        assert store.post(url, {"name": name}).status_code == 302
    site.refresh_from_db()
    assert site.names == ["Crew A", "Night shift"]
    for page in (reverse("pick_list", args=["here", run.pk, "seals"]), reverse("hand_out", args=["here"])):
        assert "Night shift" in store.get(page).content.decode()


def test_what_is_shown_is_what_is_posted(site, run, store):
    item = ItemFactory(site=site, code="LUG")
    need(run, item, 12)
    boxed(site, item, 8, run)
    for place, lot, day in (("A", "L2", "2027-05-01"), ("B", "L1", "2027-02-01")):
        shipment = ShipmentFactory(site=site)
        received(shipment, counted(item, 3, lot=lot, expires=day, bin=place))
    (row,) = pick_list(site, run, "seals").rows
    shown = {(one.place, one.lot): one.quantity for one in row.taken}
    assert press(store, run, "Hand out what is ticked").status_code == 302
    moved = Move.objects.filter(posting__kind="issue").values_list("source__name", "lot", "quantity")
    assert {(place, lot): int(quantity * 10_000) for place, lot, quantity in moved} == shown


def press(client, run, said, stage="seals", **typed):
    page = client.get(reverse("pick_list", args=["here", run.pk, stage])).content.decode()
    (form,) = [form for form in re.findall(r"<form.*?</form>", page, re.S) if said in form]
    fields = {}
    for tag in re.findall(r"<(?:input|option|select)[^>]*>", form):
        parts = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if tag.startswith("<select"):
            choice = parts["name"]
        elif tag.startswith("<option"):
            fields.setdefault(choice, unescape(parts["value"]))
        elif parts.get("type") != "checkbox" or "checked" in tag:
            fields[parts["name"]] = unescape(parts.get("value", ""))
    kind = re.search(r'data-record="(\w+)"', form)[1]
    return client.post(reverse("act", args=["here", kind]), fields | typed)


def test_an_unticked_line_stays_and_more_or_less_is_typed(site, run, store):
    items = [ItemFactory(site=site, code=code) for code in ("A", "B")]
    for item in items:
        need(run, item, 5)
        stocked(item, 9, "Shelf")
    page = store.get(reverse("pick_list", args=["here", run.pk, "seals"])).content.decode()
    assert "2 items to hand out" in page
    assert press(store, run, "Hand out what is ticked", **{"1-quantity": "4", "2-quantity": ""}).status_code == 302
    assert lying(items[0])["handed_out CB-1 seals"] == 4
    assert "handed_out CB-1 seals" not in lying(items[1])
    assert [row.open for row in pick_list(site, run, "seals").rows] == [10_000, 50_000]


def test_a_line_that_is_gone_meanwhile_is_named_and_the_others_stand(site, run, store):
    lug, cap = ItemFactory(site=site, code="LUG"), ItemFactory(site=site, code="CAP")
    other = RunFactory(site=site, name="CB-2")
    for item in (lug, cap):
        need(run, item, 5)
        stocked(item, 5, "Shelf")
    page = store.get(reverse("pick_list", args=["here", run.pk, "seals"])).content.decode()
    handed(lug, 3, other)
    fields = {"run": "CB-1", "stage": "seals", "1-id": "a", "1-item": "CAP", "1-quantity": "5"}
    fields |= {"2-id": "b", "2-item": "LUG", "2-quantity": "5"}
    assert "LUG" in page
    answer = store.post(reverse("act", args=["here", "issues"]), fields)
    assert answer.status_code == 422
    assert "LUG: 5 each asked, 2 there" in answer.content.decode()
    assert lying(cap)["handed_out CB-1 seals"] == 5


def test_what_lacks_is_borrowed_owed_and_paid_back(site, run, store):
    item = ItemFactory(site=site, code="LUG")
    need(run, item, 4)
    other = RunFactory(site=site, name="CB-2")
    boxed(site, item, 9, other)
    (row,) = pick_list(site, run, "seals").rows
    assert (row.lacking, row.of_others) == (40_000, (("CB-2", 90_000),))
    assert press(store, run, "Borrow").status_code == 302
    (debt,) = debts(site)
    assert (debt.borrower, debt.lender, debt.quantity) == (run, other, 4)
    assert "owed to CB-2" in store.get(reverse("debts", args=["here"])).content.decode()
    assert press(store, run, "It came back", **{"1-quantity": "4", "bin": "kit CB-2"}).status_code == 302
    assert debts(site) == []
    assert lying(item) == {"kit_box kit CB-2": 9, "supplier " + lying_supplier(item): -9}


def lying_supplier(item) -> str:
    return next(name for name in lying(item) if name.startswith("supplier ")).removeprefix("supplier ")


def test_a_piece_made_for_another_run_is_not_offered(site, run):
    item = ItemFactory(site=site, code="PLATE", for_run=True, usage="fixed")
    need(run, item, 2)
    other = RunFactory(site=site, name="CB-2")
    boxed(site, item, 2, other)
    (row,) = pick_list(site, run, "seals").rows
    assert (row.taken, row.lacking, row.of_others) == ((), 20_000, ())


def test_only_open_stages_that_are_planned_soon_wait_to_be_served(site, run):
    item = ItemFactory(site=site, code="LUG")
    need(run, item, 4)
    need(run, item, 4, stage="covers")
    Stage.objects.create(run=run, stage="covers", planned=site.today() + timedelta(days=40))
    assert [(row.stage, row.open, row.lines) for row in stages_to_serve(site)] == [("seals", 1, 1)]
    stocked(item, 9)
    handed(item, 4, run)
    assert [row.open for row in stages_to_serve(site)] == [0]
    Stage.objects.filter(stage="seals").update(done=site.start_of(site.today()))
    assert stages_to_serve(site) == []


def test_who_may_not_hand_out_finds_no_page(client, site, run):
    client.force_login(member(site, "viewer"))
    assert client.get(reverse("pick_list", args=["here", run.pk, "seals"])).status_code == 403
    client.force_login(member(site, "foreman"))
    assert client.get(reverse("pick_list", args=["here", run.pk, "seals"])).status_code == 200
    assert client.get(reverse("pick_list", args=["here", run.pk, "painting"])).status_code == 404


@pytest.mark.parametrize("page", ["pick", "stages"])
def test_a_page_asks_as_often_for_many_lines_as_for_few(store, site, run, page):
    url = (
        reverse("hand_out", args=["here"]) if page == "stages" else reverse("pick_list", args=["here", run.pk, "seals"])
    )

    def asked(count: int) -> int:
        for number in range(count):
            item = ItemFactory(site=site, code=f"I{count}-{number}")
            need(run, item, 3)
            stocked(item, 2, f"Bin {number}")
            extra = RunFactory(site=site, name=f"R{count}-{number}")
            Stage.objects.create(run=extra, stage="seals", planned=site.today())
        store.get(url)
        with CaptureQueriesContext(connection) as queries:
            assert store.get(url).status_code == 200
        return len(queries)

    assert asked(5) == asked(25)


def test_more_parts_than_the_stage_needs_are_asked_about_not_refused(site, run, store):
    item = ItemFactory(site=site, code="LUG", usage="fixed")
    need(run, item, 5)
    stocked(item, 9, "Shelf")
    handed(item, 4, run)
    fields = {"id": "a", "run": "CB-1", "stage": "seals", "item": "LUG", "quantity": "2"}
    asked = store.post(reverse("act", args=["here", "issues"]), fields)
    assert asked.status_code == 422
    assert "CB-1, seals needs 5 LUG and has 4 already." in asked.content.decode()
    confirmed = {"confirmed": asked.context["asked"].question}
    assert store.post(reverse("act", args=["here", "issues"]), fields | confirmed).status_code == 302
    assert lying(item)["handed_out CB-1 seals"] == 6
    screws = ItemFactory(site=site, code="SCREW", usage="counted")
    need(run, screws, 5)
    stocked(screws, 900, "Shelf")
    fields = {**fields, "id": "b", "item": "SCREW", "quantity": "500"}
    assert store.post(reverse("act", args=["here", "issues"]), fields).status_code == 302, "they leave in cases"
