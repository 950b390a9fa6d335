"""The purchaser's pages without any script: from what runs short to an order that is sent, answered and chased."""

import hashlib
import io
import re
from datetime import timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from kits.models import Order, OrderFile, OrderLine, OrderStep
from kits.shortages.queries import reconcile
from takeoff.models import Item
from tests.factories.kits import OrderFactory, OrderLineFactory
from tests.factories.takeoff import ItemFactory, SupplierFactory

pytestmark = pytest.mark.django_db
START = {"=", "+", "-", "@"}


def text_of(answer, status=200) -> str:
    assert answer.status_code == status, answer.content.decode()[:2000]
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", answer.content.decode())))


def forms_of(answer) -> list[tuple[str, dict[str, str]]]:
    """The address and the fields of each form of a page, hidden or filled."""
    page = answer.content.decode()
    found = []
    for form in re.findall(r"<form.*?</form>", page, re.S):
        at = re.search(r'action="([^"]*)"', form)
        tags = [dict(re.findall(r'([\w-]+)="([^"]*)"', tag)) for tag in re.findall(r"<input[^>]*>", form)]
        fields = {tag["name"]: unescape(tag.get("value", "")) for tag in tags if "name" in tag}
        found.append((at[1] if at else "", fields))
    return found


def form_of(answer, name: str, value: str | None = None) -> tuple[str, dict[str, str]]:
    """The form that has a field of this name, and of this value."""
    return next((at, fields) for at, fields in forms_of(answer) if name in fields and value in {None, fields[name]})


@pytest.fixture
def buyer(enter):
    return enter("purchaser")


def cap(site) -> Item:
    return Item.objects.of(site).get(code="CAP")


def drafted(client, site) -> Order:
    page = client.get(reverse("new_order", args=["here"]), {"ware": [f"i{cap(site).pk}"]})
    _, fields = form_of(page, "line")
    answer = client.post(reverse("new_order", args=["here"]), {"line": [fields["line"]]}, follow=True)
    assert "Drafted: ORD-01" in text_of(answer)
    return Order.objects.of(site).get(name="ORD-01")


def sent(client, site) -> Order:
    order = drafted(client, site)
    at = reverse("send_order", args=["here", order.pk])
    _, fields = form_of(client.get(at), "po")
    assert client.post(at, fields | {"po": "QM-7", "at": ""}).status_code == 302
    order.refresh_from_db()
    return order


def test_what_runs_short_is_drafted_once(site, buyer):
    short = buyer.get(reverse("shortages", args=["here"])).content.decode()
    assert f'name="ware" value="i{cap(site).pk}"' in short
    order = drafted(buyer, site)
    (line,) = order.lines.all()
    assert (line.item.code, line.quantity, line.price, order.supplier.name) == ("CAP", 10, 250, "S & Sons")
    assert "6 no kit promised" in line.reason
    assert [step.step for step in order.steps.all()] == ["drafted"]
    again = buyer.get(reverse("new_order", args=["here"]), {"ware": [f"i{cap(site).pk}"]})
    assert "asked for already: ORD-01 10" in text_of(again)
    stale = {"line": [f"i{cap(site).pk}///100000", f"i{cap(site).pk}///x", "i9999999///5", "no"]}
    answer = buyer.post(reverse("new_order", args=["here"]), stale, follow=True)
    assert "CAP was left out: asked for already: ORD-01 10" in text_of(answer)
    assert Order.objects.of(site).count() == 1


def test_a_draft_takes_only_what_drafts_leave_in_packs(site, buyer):
    """6 caps are short; 1 of them is in a draft: 5 left, a pack of 10 more."""
    item = cap(site)
    OrderLineFactory(order=OrderFactory(site=site, name="D-1", state="asked for"), item=item, quantity=5)
    page = buyer.get(reverse("new_order", args=["here"]), {"ware": [f"i{item.pk}"]})
    assert re.search(r"10 CAP, \d+ in D-1|5 in D-1", text_of(page))
    line = next(line for line in reconcile(site).lines if line.item.code == "CAP")
    order = drafted(buyer, site)
    assert order.lines.get().quantity == -(-(line.lacking // 10_000 - 5) // 10) * 10


def test_a_draft_is_changed_and_asks_about_what_nobody_sells(site, buyer):
    order = drafted(buyer, site)
    line = order.lines.get()
    at = reverse("change_order_line", args=["here", order.pk, line.pk])
    _, fields = form_of(buyer.get(reverse("change_order", args=["here", order.pk])), f"{line.pk}-quantity")
    assert fields[f"{line.pk}-quantity"] == "10"
    answer = buyer.post(at, fields | {f"{line.pk}-quantity": "5"})
    text = text_of(answer, 422)
    assert "CAP comes in packs of 10: 5 is no whole number of them." in text
    assert "10 of CAP are lacking: 5 leave some short." in text
    assert order.lines.get().quantity == 10
    _, fields = form_of(answer, "confirmed")
    assert buyer.post(at, fields).status_code == 302
    assert order.lines.get().quantity == 5
    step = order.steps.order_by("pk").last()
    assert (step.step, step.note, step.by) == ("changed", "CAP: quantity 10 → 5", "purchaser")
    assert buyer.post(at, fields | {f"{line.pk}-quantity": "0"}).status_code == 422
    assert buyer.post(at, fields | {f"{line.pk}-quantity": "1.5"}).status_code == 422
    many = fields | {f"{line.pk}-quantity": "20", f"{line.pk}-price": "2.755"}
    assert "At most 2 decimal places" in text_of(buyer.post(at, many), 422)
    many |= {f"{line.pk}-price": "2.75", f"{line.pk}-need_by": "2026-05-01"}
    assert buyer.post(at, many).status_code == 302
    line.refresh_from_db()
    assert (line.quantity, line.price, line.need_by.isoformat()) == (20, 275, "2026-05-01")


def test_a_line_is_added_by_hand_and_taken_out_with_a_reason(site, buyer):
    order = drafted(buyer, site)
    add = reverse("add_order_line", args=["here", order.pk])
    assert "There is no item NONE here" in text_of(
        buyer.post(add, {"item": "NONE", "quantity": "2", "reason": "x"}), 422
    )
    assert buyer.post(add, {"item": "TAPE", "quantity": "2", "reason": "for the shop"}).status_code == 302
    assert "has a line of TAPE" in text_of(buyer.post(add, {"item": "TAPE", "quantity": "2", "reason": "x"}), 422)
    line = order.lines.get(item__code="TAPE")
    out = reverse("take_line_out", args=["here", order.pk, line.pk])
    assert "say why" in text_of(buyer.post(out, {}, follow=True))
    assert buyer.post(out, {"reason": "on the truck"}).status_code == 302
    notes = list(order.steps.order_by("pk").values_list("note", flat=True))
    assert notes[1:] == ["TAPE: 2 added by hand. for the shop", "TAPE taken out: on the truck"]
    assert order.lines.count() == 1


def test_colleagues_drafts_on_the_same_item_show(site, buyer):
    order = drafted(buyer, site)
    OrderLineFactory(order=OrderFactory(site=site, name="THEIRS", state="draft"), item=cap(site), quantity=30)
    text = text_of(buyer.get(reverse("change_order", args=["here", order.pk])))
    assert "Asked for in other drafts, too: THEIRS 30" in text


def test_what_is_sent_is_kept_byte_for_byte_and_is_no_draft_any_more(site, buyer):
    order = sent(buyer, site)
    assert (order.state, order.po) == ("sent", "QM-7")
    kept = OrderFile.objects.of(site).get()
    answer = buyer.get(reverse("order_file", args=["here", order.pk, 1]))
    assert answer.content == bytes(kept.content)
    assert kept.sha256 == hashlib.sha256(answer.content).hexdigest()
    assert kept.sha256[:16] in text_of(buyer.get(reverse("order", args=["here", order.pk])))
    add = reverse("add_order_line", args=["here", order.pk])
    answer = buyer.post(add, {"item": "TAPE", "quantity": "2", "reason": "late"})
    assert answer.status_code == 422
    assert order.lines.count() == 1
    assert "its lines stay as the supplier has them" in text_of(
        buyer.get(reverse("change_order", args=["here", order.pk]))
    )
    line = next(line for line in reconcile(site).lines if line.item.code == "CAP")
    assert (line.inbound, line.order) == (100_000, 0)


def test_pressing_send_twice_sends_once_and_sending_again_is_a_revision(site, buyer):
    order = drafted(buyer, site)
    at = reverse("send_order", args=["here", order.pk])
    _, fields = form_of(buyer.get(at), "po")
    fields |= {"at": "2026-03-02"}
    assert [buyer.post(at, fields).status_code for _ in range(2)] == [302, 302]
    assert OrderFile.objects.of(site).count() == 1
    assert "number to follow" in text_of(buyer.get(reverse("order", args=["here", order.pk])))
    _, fields = form_of(buyer.get(at), "po")
    assert buyer.post(at, fields | {"po": "QM-9", "at": ""}).status_code == 302
    order.refresh_from_db()
    assert (order.po, sorted(OrderFile.objects.of(site).values_list("revision", flat=True))) == ("QM-9", [1, 2])


def test_a_phone_word_counts_with_its_day_and_is_not_in_writing(site, buyer):
    order = sent(buyer, site)
    page = buyer.get(reverse("order_reply", args=["here", order.pk]))
    at, fields = form_of(page, "step", "confirmed")
    day = site.today() + timedelta(days=9)
    assert buyer.post(at, fields | {"expected": day.isoformat(), "how": "phone", "whom": "Bo"}).status_code == 302
    text = text_of(buyer.get(reverse("order", args=["here", order.pk])))
    assert "not in writing" in text
    line = next(line for line in reconcile(site).lines if line.item.code == "CAP")
    assert [(one.name, one.on) for one in line.deliveries] == [("ORD-01", day)]
    assert "ORD-01" in text_of(buyer.get(reverse("today", args=["here"])))


def test_a_reply_line_by_line_comes_in_two_deliveries(site, buyer):
    order = sent(buyer, site)
    at, fields = form_of(buyer.get(reverse("order_reply", args=["here", order.pk])), "1-item")
    one, two = (site.today() + timedelta(days=days) for days in (5, 12))
    said = {"1-quantity": "6", "1-arrives": one.isoformat(), "1b-quantity": "3", "1b-arrives": two.isoformat()}
    answer = buyer.post(at, fields | said | {"how": "mail", "said_by": "Bo", "1-price": "2.60"})
    assert answer.status_code == 302
    line = next(line for line in reconcile(site).lines if line.item.code == "CAP")
    told = [(one.quantity // 10_000, one.on, one.unconfirmed) for one in line.deliveries]
    assert told == [(6, one, False), (3, two, False), (1, None, True)]
    text = text_of(buyer.get(reverse("order", args=["here", order.pk])))
    assert "part of it has no day" in text
    assert "26.00 USD" in text, "the price that was confirmed counts"


def test_who_is_late_is_chased_for_a_new_day(site, buyer):
    order = sent(buyer, site)
    at, fields = form_of(buyer.get(reverse("order_reply", args=["here", order.pk])), "step", "confirmed")
    gone = site.today() - timedelta(days=1)
    buyer.post(at, fields | {"expected": gone.isoformat(), "how": "mail"})
    assert "Did not come: chase them" in text_of(buyer.get(reverse("orders", args=["here"])))
    page = buyer.get(reverse("chase_order", args=["here", order.pk]))
    at, fields = form_of(page, "step", "re-dated")
    new = site.today() + timedelta(days=4)
    assert (
        buyer.post(at, fields | {"expected": new.isoformat(), "how": "phone", "note": "truck broke"}).status_code == 302
    )
    assert "Did not come" not in text_of(buyer.get(reverse("orders", args=["here"])))
    at, fields = form_of(page, "step", "chased")
    assert buyer.post(at, fields | {"note": "no answer", "how": "phone"}).status_code == 302


def test_the_rest_is_cancelled_and_that_is_taken_back(site, buyer):
    order = sent(buyer, site)
    at, fields = form_of(buyer.get(reverse("cancel_order", args=["here", order.pk])), "step", "rest cancelled")
    assert buyer.post(at, fields | {"note": "not needed"}).status_code == 302
    order.refresh_from_db()
    assert order.state == "cancelled"
    page = buyer.get(reverse("order", args=["here", order.pk]))
    at, fields = form_of(page, "reverses", OrderStep.objects.of(site).get(step="rest cancelled").event_id)
    assert buyer.post(at, fields | {"reason": "needed after all"}).status_code == 302
    order.refresh_from_db()
    assert order.state == "sent"


def test_a_draft_is_asked_for_and_dropped(site, buyer):
    order = drafted(buyer, site)
    at, fields = form_of(buyer.get(reverse("ask_for_order", args=["here", order.pk])), "step", "asked for")
    assert buyer.post(at, fields | {"whom": "the office"}).status_code == 302
    assert "Waiting for approval" in text_of(buyer.get(reverse("orders", args=["here"])))
    at, fields = form_of(buyer.get(reverse("cancel_order", args=["here", order.pk])), "step", "rest cancelled")
    assert buyer.post(at, fields | {"note": "not needed"}).status_code == 302
    assert "Nothing is on order" in text_of(buyer.get(reverse("orders", args=["here"])))


def test_others_see_orders_without_money_and_do_nothing(site, buyer, enter):
    order = sent(buyer, site)
    viewer = enter("viewer")
    for name, args in (("orders", ()), ("order", (order.pk,))):
        answer = viewer.get(reverse(name, args=["here", *args]))
        assert "ORD-01" in text_of(answer)
        assert "USD" not in answer.content.decode()
        assert (
            'method="post"'
            not in answer.content.decode().replace('action="/theme/"', "").split("<footer")[0].split("<main")[1]
        )
    for name in ("send_order", "order_reply", "change_order", "chase_order", "cancel_order", "ask_for_order"):
        assert viewer.get(reverse(name, args=["here", order.pk])).status_code == 403
    assert viewer.get(reverse("order_file", args=["here", order.pk, 1])).status_code == 403
    assert viewer.get(reverse("found_order", args=["here"]), {"order": "ORD-01"}).url.endswith(f"/orders/{order.pk}/")
    assert viewer.get(reverse("found_order", args=["here"]), {"order": "none"}).status_code == 404


def test_no_text_starts_a_formula_in_the_file(site, buyer):
    item = cap(site)
    item.description = item.grade = item.accept = item.refuse = item.supplier_part = "=cmd|' /C calc'!A0"
    item.save()
    site.ship_to, site.contact, site.name = "@SUM(1)", "+1 555", "=Here"
    site.save()
    supplier = item.supplier
    supplier.name = "-Sons"
    supplier.save()
    order = sent(buyer, site)
    book = load_workbook(io.BytesIO(bytes(OrderFile.objects.of(site).get().content)))
    sheet = book.active
    ours = re.compile(r"=(IF\(|SUM\()")
    for row in sheet.iter_rows():
        for cell in row:
            if isinstance(cell.value, str) and cell.value[:1] in START:
                assert ours.match(cell.value), cell.coordinate
    assert sheet["A1"].value == f"Order {order.name}, revision 1: -Sons"
    footers = [sheet.oddFooter.left.text, sheet.oddFooter.right.text]
    assert all(text and text[0] not in START for text in footers)


def test_only_the_cells_to_fill_in_can_be_typed_into(site, buyer):
    sent(buyer, site)
    sheet = load_workbook(io.BytesIO(bytes(OrderFile.objects.of(site).get().content))).active
    assert sheet.protection.sheet
    open_ = {sheet.cell(5, cell.column).value for cell in sheet[6] if not cell.protection.locked}
    assert open_ == {"Confirmed", "Arrives on", "Your price", "Other part", "Remark"}


@pytest.mark.parametrize("name", ["orders", "today"])
def test_a_list_asks_as_often_for_200_orders_as_for_5(site, buyer, name):
    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert buyer.get(reverse(name, args=["here"])).status_code == 200
        return len(seen)

    supplier = SupplierFactory(site=site, name="Many")
    items = [ItemFactory(site=site, code=f"I{number}", supplier=supplier) for number in range(3)]

    def make(count: int, first: int) -> None:
        for number in range(first, first + count):
            order = OrderFactory(
                site=site, name=f"M-{number:03}", supplier=supplier, state=("draft", "sent")[number % 2]
            )
            for item in items:
                OrderLineFactory(order=order, item=item, quantity=5)

    make(5, 0)
    few = asked()
    make(195, 5)
    assert asked() == few
    assert OrderLine.objects.of(site).count() == 600
