"""What one supplier owes: a letter with counts, drawing revisions and photos, and a sheet to answer in."""

import io
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from kits.claims.letters import letter_to
from kits.models import Kit
from takeoff.models import PhotoRemoved, Site
from takeoff.records.services import keep_one
from tests.factories.kits import KitFactory, KitLineFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, PhotoFactory, SupplierFactory, member
from tests.kits.shortages.scene import Scene

pytestmark = pytest.mark.django_db
NOW = datetime.now(tz=UTC)


@pytest.fixture
def scene() -> Scene:
    return Scene(slug="here", name="Here")


def keep(site: Site, kind: str, id_: str, hours: int = 8, **row) -> None:
    keep_one(site=site, kind=kind, row={"id": id_, "at": NOW - timedelta(hours=hours), **row})


def bring(scene, code, listed, counted, name="S-1", supplier=None, **said):
    """Ship and count an item of a kit drawn at revision C; what does not come is short."""
    supplier = supplier or scene.supplier
    item = ItemFactory(site=scene.site, code=code, supplier=supplier, supplier_part=f"p-{code}")
    kit = KitFactory(site=scene.site, name=f"K-{name}", revision="C")
    KitLineFactory(kit=kit, item=item, quantity=listed)
    shipment = ShipmentFactory(site=scene.site, name=name, supplier=supplier)
    PackingLineFactory(shipment=shipment, item=item, quantity=listed, kit=kit)
    keep(scene.site, "receipts", f"count-{code}", shipment=name, item=code, counted=str(counted), **said)
    return item


def owed(scene, supplier=None):
    rows = letter_to(scene.site, supplier or scene.supplier).rows
    return [(row.what, row.item.code, row.quantity // 10_000, row.where, row.revision) for row in rows]


def test_what_came_not_whole_is_owed_with_its_counts_and_drawing_whether_claimed_or_not(scene):
    bring(scene, "LUG", 10, 7)
    bring(scene, "CAP", 6, 6, name="S-2", condition="damaged")
    assert owed(scene) == [("short", "LUG", 3, "S-1", "C"), ("damaged", "CAP", 6, "S-2", "C")]
    (first, _) = letter_to(scene.site, scene.supplier).rows
    assert (first.listed, first.counted) == (100_000, 70_000)

    keep(scene.site, "claim_steps", "c1", 2, shipment="S-1", step="filed")
    assert owed(scene)[0] == ("short", "LUG", 3, "S-1", "C")  # of the claim now, and not twice
    keep(scene.site, "claim_steps", "c2", 1, shipment="S-1", step="settled by credit")
    assert owed(scene) == [("damaged", "CAP", 6, "S-2", "C")]


def test_a_replacement_that_was_agreed_is_owed_no_more(scene):
    bring(scene, "LUG", 10, 7)
    keep(scene.site, "claim_steps", "c2", 1, shipment="S-1", step="settled by replacement")
    assert owed(scene) == []


def test_what_kits_promise_and_nobody_sends_and_what_their_lists_lack_are_owed_by_their_supplier(scene):
    lug, cap, stray = scene.item("LUG"), scene.item("CAP", fitted="section"), scene.item("STRAY")
    run = scene.run()
    for item in (lug, cap, stray):
        scene.needs(run, item, "covers", 12)
    scene.stage(run, "covers")
    for name, revision in (("K1", "B"), ("K2", "D")):
        kit = KitFactory(site=scene.site, name=name, revision=revision)
        KitLineFactory(kit=kit, item=lug, quantity=5)
        KitLineFactory(kit=kit, item=cap, quantity=1)
    scene.ship(lug, 4)
    assert owed(scene) == [
        ("promised, not shipped", "LUG", 6, "K1, K2", "B, D"),
        ("not on the kit list", "LUG", 2, "K1, K2", "B, D"),
    ]  # what comes fitted is no gap of a list, and what no kit promises is nobody's

    for name in ("K3", "K4"):
        KitLineFactory(kit=KitFactory(site=scene.site, name=name, revision="D"), item=lug, quantity=1)
    assert owed(scene) == [("promised, not shipped", "LUG", 8, "K1, K2, K3 and 1 more", "B, D")]


def test_another_suppliers_goods_are_in_its_own_letter_only(scene):
    other = SupplierFactory(site=scene.site, name="Other")
    bring(scene, "LUG", 10, 7)
    bring(scene, "CAP", 6, 5, name="S-2", supplier=other)
    assert [code for _, code, *_ in owed(scene)] == ["LUG"]
    assert [code for _, code, *_ in owed(scene, other)] == ["CAP"]

    scene.site.items.filter(code="LUG").update(supplier=other)  # its part number is not that of who sent it
    (row,) = letter_to(scene.site, scene.supplier).rows
    assert (row.item.code, row.item.supplier_part) == ("LUG", "")
    (row,) = letter_to(scene.site, other).rows[:1]
    assert row.item.supplier_part == "p-CAP"


def test_the_page_shows_photos_of_what_came_and_none_that_was_taken_away(client, scene):
    person = member(scene.site, "storekeeper", username="storekeeper")
    bring(scene, "LUG", 10, 7)
    kept, gone = (PhotoFactory(site=scene.site, record="count-LUG", by=person) for _ in range(2))
    other = PhotoFactory(site=scene.site, record="count-NONE", by=person)
    PhotoRemoved.objects.create(photo=gone, reason="blurred", at=NOW, by=person)
    client.force_login(person)
    page = client.get(reverse("supplier_letter", args=["here", scene.supplier.pk])).content.decode()
    assert reverse("small_photo", args=["here", kept.uuid]) in page
    assert str(gone.uuid) not in page
    assert str(other.uuid) not in page
    assert reverse("supplier_letter", args=["here", scene.supplier.pk]) in client.get(
        reverse("claims", args=["here"])
    ).content.decode()  # fmt: skip


def test_the_sheet_has_a_row_for_each_and_cells_to_answer_in_and_no_formula(client, scene):
    bring(scene, "=1+1", 10, 7, name="=S")
    Kit.objects.of(scene.site).update(revision="@C")
    client.force_login(member(scene.site, "purchaser"))
    answer = client.get(reverse("supplier_letter_sheet", args=["here", scene.supplier.pk]))
    sheet = load_workbook(io.BytesIO(answer.content))["Owed"]
    head, row = [[cell.value for cell in sheet[number]] for number in (5, 6)]
    told = dict(zip(head, row, strict=True))
    assert (told["What"], told["Listed"], told["Counted"], told["Owed"]) == ("short", 10, 7, 3)
    assert (told["Item"], told["Shipment or kit"], told["Drawing"]) == ("'=1+1", "'=S", "'@C")
    assert not [cell for line in sheet.iter_rows() for cell in line if cell.data_type == "f"]


def test_a_letter_asks_the_database_as_often_for_many_lines(scene):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            letter_to(scene.site, scene.supplier)
        return len(seen)

    bring(scene, "A0", 10, 7, name="S-0")
    few = queries()
    for n in range(1, 6):
        bring(scene, f"A{n}", 10, 7, name=f"S-{n}")
    assert queries() == few
