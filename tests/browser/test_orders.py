"""The purchaser's week at the demo site, at a desk: from what runs short to what the storekeeper waits for."""

import io
from datetime import timedelta

from openpyxl import load_workbook
from playwright.sync_api import expect

from kits.orders.models import Order, OrderFile
from kits.shortages.queries import reconcile

SEALANT = "Sealant, butyl rubber, cartridge"


def test_a_purchaser_drafts_changes_sends_and_hears_by_phone(site, doors):
    page = doors.open("purchaser")
    page.goto(f"/{site.slug}/shortages/")
    sealant = next(line for line in reconcile(site).lines if line.item.code == "sealant-butyl")
    page.get_by_role("checkbox", name="Draft an order of LV-500").uncheck()
    plate = page.get_by_role("checkbox", name="Draft an order of Seal plate")
    plate.focus()
    page.keyboard.press("Space")
    expect(plate).not_to_be_checked()
    page.get_by_role("button", name="Draft orders of what is ticked").click()

    # Of 34 that are lacking 12 are in a draft already: 24 in packs of 12.
    expect(page.get_by_role("heading", level=1)).to_have_text("1 order to draft")
    expect(page.get_by_text("12 in PO-126")).to_be_visible()
    page.get_by_role("button", name="Draft the order").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("ORD-01, Ostrel Sealing: to be sent")
    order = Order.objects.of(site).get(name="ORD-01")
    assert [int(line.quantity) for line in order.lines.all()] == [24]

    # Off the pack it asks; a whole number of packs is kept.
    page.get_by_role("link", name="Change it").click()
    expect(page.get_by_text("Asked for in other drafts, too: PO-126")).to_be_visible()
    page.get_by_label("Quantity").first.fill("20")
    page.get_by_role("button", name="Keep").first.click()
    expect(page.get_by_text("sealant-butyl comes in packs of 12")).to_be_visible()
    page.get_by_role("link", name="Back, nothing kept").click()
    page.get_by_label("Quantity").first.fill("36")
    page.get_by_role("button", name="Keep").first.click()
    page.get_by_role("link", name="Send it").click()
    page.get_by_label("Purchase order's number").fill("QM-4500130")
    page.get_by_role("button", name="It is sent: make the workbook").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("waits for a reply")
    with page.expect_download() as download:
        page.get_by_role("link", name="ORD-01-rev1.xlsx").click()
    content = download.value.path().read_bytes()
    assert content == bytes(OrderFile.objects.of(site).get().content)
    assert load_workbook(io.BytesIO(content)).active["A1"].value == "Order ORD-01, revision 1: Ostrel Sealing"

    # By phone: all as ordered, on a day.
    day = site.today() + timedelta(days=6)
    page.get_by_role("link", name="Tell the reply").click()
    page.get_by_label("All of it arrives on").fill(day.isoformat())
    page.get_by_label("Said by").first.fill("N. Ostrel")
    page.get_by_role("button", name="All as ordered").click()
    expect(page.get_by_text("not in writing").first).to_be_visible()

    # What is short, Today and the trucks that the storekeeper waits for follow.
    line = next(line for line in reconcile(site).lines if line.item.code == "sealant-butyl")
    assert line.inbound - sealant.inbound == 360_000
    page.get_by_role("link", name=SEALANT).click()
    expect(page.get_by_role("row").filter(has_text="Order ORD-01")).to_contain_text("36")
    keeper = doors.open("storekeeper")
    keeper.goto(f"/{site.slug}/")
    coming = keeper.get_by_role("listitem").filter(has_text="Order ORD-01")
    expect(coming.first).to_contain_text("in 6 days")
    coming.first.get_by_role("link", name="Order ORD-01").click()
    expect(keeper.get_by_role("heading", level=1)).to_contain_text("ORD-01, Ostrel Sealing: comes in 6 days")
    assert "USD" not in keeper.get_by_role("main").inner_text()
    assert not doors.wrong
