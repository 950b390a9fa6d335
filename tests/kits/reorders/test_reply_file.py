"""The workbook that came back: what it confirms, and every way in which it can be wrong, answered by row."""

import io
import random
import re
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook, load_workbook

from kits.models import Order, OrderDelivery, OrderFile
from kits.reorders.reply_file import ReplyError, read_reply
from kits.reorders.services import send_order
from kits.shortages.queries import reconcile
from tests.factories.kits import OrderFactory, OrderLineFactory
from tests.factories.takeoff import CableFactory, ItemFactory, SupplierFactory, member
from tests.kits.makers import at
from tests.kits.reorders.test_pages import form_of, text_of

pytestmark = pytest.mark.django_db
FIRST = 6  # the row of the first line


def send(order, **row) -> OrderFile:
    said = {"id": f"send {order.name} {order.files.count()}", "order": order.name, "step": "sent", "at": at(4)}
    return send_order(order=order, sender=member(order.site, "purchaser"), row=said | row)


@pytest.fixture
def order(site) -> Order:
    supplier = SupplierFactory(site=site, name="Maker")
    order = OrderFactory(site=site, name="PO-1", state="draft", supplier=supplier)
    for code, part in (("LUG", "00-12"), ("CLAMP", "=A1")):
        item = ItemFactory(site=site, code=code, supplier_part=part, supplier=supplier, unit_cost=125)
        OrderLineFactory(order=order, item=item, quantity=100, price=125, need_by=date(2026, 3, 15))
    OrderLineFactory(order=order, item=None, cable=CableFactory(site=site, code="C-9"), reel_length=152_400, quantity=2)
    send(order)
    return order


@pytest.fixture
def book(order) -> Workbook:
    return load_workbook(io.BytesIO(bytes(order.files.get(revision=1).content)))


def put(book: Workbook, row: int, **cells) -> None:
    sheet = book.active
    heads = {cell.value: cell.column for cell in sheet[5]}
    for name, value in cells.items():
        sheet.cell(row, heads[name.replace("_", " ").capitalize()]).value = value


def filled(book: Workbook) -> Workbook:
    for row, quantity in ((6, 100), (7, 60), (8, 2)):
        put(book, row, Confirmed=quantity, Arrives_on=date(2026, 3, 12))
    return book


def read(order, book):
    file = io.BytesIO()
    book.save(file)
    file.seek(0)
    files = list(order.files.order_by("-revision"))
    lines = list(order.lines.select_related("item", "cable", "run").order_by("pk"))
    return read_reply(order, files, lines, file, "back.xlsx")


def told(order, book) -> list[tuple[int, str]]:
    reading = read(order, book)
    return [(row.number, row.problem or "; ".join(row.differs) or "as ordered") for row in reading.rows]


def test_what_is_filled_in_is_read_with_how_it_differs(order, book):
    filled(book)
    put(book, 7, Your_price=1.5, Other_part="B-7", Remark="rest in May", Arrives_on=date(2026, 3, 20))
    assert told(order, book) == [
        (6, "as ordered"),
        (
            7,
            "60 of 100 confirmed; arrives 20 Mar 2026, 5 days after 15 Mar 2026; another price; "
            "offers B-7 instead; rest in May",
        ),
        (8, "as ordered"),
    ]  # fmt: skip
    cells = read(order, book).rows[1].cells
    assert (cells["quantity"], cells["arrives"], cells["price"], cells["item"]) == ("60", "2026-03-20", "1.5", "CLAMP")


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"Part": "00-13"}, "Part was 00-12"),
        ({"Unit": "box"}, "Unit was each"),
        ({"Quantity": 10}, "Quantity was 100"),
        ({"Item": "CAP"}, "Item was LUG"),
        ({"Need_by": date(2026, 5, 1)}, "Need by was 2026-03-15"),
        ({"Unit_price": 9}, "Unit price was 1.25"),
        ({"Pack_of": None}, "Pack of was 1"),
    ],
)
def test_what_is_ours_and_was_changed_is_named_and_nothing_of_the_row_taken(order, book, cells, said):
    put(filled(book), FIRST, **cells)
    (number, problem), *rest = told(order, book)
    assert (number, rest[0][0]) == (6, 7)
    assert said in problem
    assert read(order, book).rows[0].cells is None


def test_numbers_and_dates_as_text_are_read_where_they_can_be(order, book):
    put(filled(book), FIRST, Confirmed="40", Arrives_on="2026-03-12", Your_price="1.20")
    assert told(order, book)[0] == (6, "40 of 100 confirmed; another price")
    put(book, FIRST, Confirmed="forty")
    assert told(order, book)[0][1].startswith("Confirmed: expected")
    put(book, FIRST, Confirmed=40, Arrives_on="next week")
    assert told(order, book)[0][1].startswith("Arrives on: expected a date")
    put(book, FIRST, Arrives_on=date(2026, 3, 12), Confirmed=-1)
    assert told(order, book)[0][1].startswith("Confirmed: expected")
    put(book, FIRST, Confirmed="=10*4")
    assert "Confirmed: expected" in told(order, book)[0][1]


def test_a_copied_row_and_a_row_below_are_second_deliveries(order, book):
    filled(book)
    sheet = book.active
    put(book, FIRST, Confirmed=30)
    sheet.insert_rows(7, 2)
    for column in range(1, sheet.max_column + 1):
        sheet.cell(7, column).value = sheet.cell(6, column).value
    put(book, 7, Confirmed=20, Arrives_on=date(2026, 3, 14))
    put(book, 8, Confirmed=50, Arrives_on=date(2026, 3, 15))
    reading = read(order, book)
    assert [(row.number, row.cells["item"], row.cells["quantity"]) for row in reading.rows[:3]] == [
        (6, "LUG", "30"),
        (7, "LUG", "20"),
        (8, "LUG", "50"),
    ]
    assert len({row.cells["reply"] for row in reading.rows}) == 1


def test_a_deleted_row_is_an_answer_that_is_missing(order, book):
    filled(book).active.delete_rows(7)
    reading = read(order, book)
    assert [str(line.item) for line in reading.missing] == ["CLAMP"]
    assert [row.number for row in reading.rows if row.cells] == [6, 7]


def test_rows_that_were_never_in_the_file(order, book):
    filled(book)
    put(book, 7, Line=9)
    assert told(order, book)[1] == (7, "The order has no line 9: this row was not in the file.")
    put(book, 7, Line=None)
    assert told(order, book)[1] == (7, "It has no number of a line: say which line it answers.")
    put(book, 8, Confirmed=None, Arrives_on=None)
    assert told(order, book)[2] == (8, "Nothing is filled in.")
    put(book, 8, Arrives_on=date(2026, 3, 12))
    assert told(order, book)[2][1].startswith("Confirmed is empty")


def test_another_orders_file_an_old_revision_and_no_file_at_all(site, order, book):
    other = OrderFactory(site=site, name="PO-2", state="draft", supplier=order.supplier)
    OrderLineFactory(order=other, item=ItemFactory(site=site, code="X"), quantity=1)
    with pytest.raises(ReplyError, match="No file of PO-2 was sent"):
        read(other, book)
    send(other)
    with pytest.raises(ReplyError, match=r"This is no file of order PO-2\. It says “Order PO-1, revision 1"):
        read(other, book)
    send(order, po="QM-1")
    with pytest.raises(ReplyError, match="This answers revision 1; revision 2 was sent since"):
        read(order, filled(book))
    with pytest.raises(ReplyError, match="damaged or no workbook"):
        read_reply(order, list(order.files.all()), [], io.BytesIO(b"PK\x03\x04 not one"), "x.xlsx")
    empty = Workbook()
    with pytest.raises(ReplyError, match="It has no title"):
        read(order, empty)


@pytest.mark.parametrize("seed", range(5))
def test_random_damage_is_answered_and_never_taken_for_a_line_of_ours(order, book, seed):
    """30 damaged files each: whatever is done to one, a row is taken only where all that is ours stands in it."""
    chance = random.Random(seed)
    content = io.BytesIO()
    filled(book).save(content)
    ours = {1: "LUG", 2: "CLAMP", 3: "C-9"}
    for _ in range(30):
        damaged = load_workbook(io.BytesIO(content.getvalue()))
        sheet = damaged.active
        for _ in range(chance.randint(1, 4)):
            row, column = chance.randint(1, 10), chance.randint(1, 20)
            sheet.cell(row, column).value = chance.choice(["x", "", None, 7, -1, 0.5, "=1", "LUG", date(2026, 4, 1)])
        try:
            reading = read(order, damaged)
        except ReplyError:
            continue
        for row in reading.rows:
            if row.cells:
                place = sheet.cell(row.number, 1).value
                if isinstance(place, int):
                    assert (row.cells.get("item") or row.cells["cable"]) == ours[place]
                    if sheet["C5"].value == "Item":
                        assert sheet.cell(row.number, 3).value == ours[place]


def test_what_came_back_is_looked_at_ticked_and_kept_once(site, order, book, enter):
    buyer = enter("purchaser")
    file = io.BytesIO()
    filled(book).save(file)
    at_reply = reverse("order_reply", args=["here", order.pk])

    def upload():
        return buyer.post(at_reply, {"file": SimpleUploadedFile("back.xlsx", file.getvalue())})

    answer = upload()
    text = text_of(answer)
    assert "The file answers 3 rows" in text
    assert "60 of 100 confirmed" in text
    assert not OrderDelivery.objects.of(site).exists()
    act, fields = form_of(answer, "7-quantity")
    del fields["8-id"]  # unticked
    for _ in range(2):
        assert buyer.post(act, fields).status_code == 302
    rows = OrderDelivery.objects.of(site).order_by("pk")
    assert sorted((str(row.line.item), int(row.quantity), row.how) for row in rows) == [
        ("CLAMP", 60, "our file"),
        ("LUG", 100, "our file"),
    ]
    assert "was loaded before" in text_of(upload())
    line = next(line for line in reconcile(site).lines if line.item.code == "CLAMP")
    assert [(one.quantity // 10_000, one.unconfirmed) for one in line.deliveries] == [(60, False), (40, True)]
    order.refresh_from_db()
    assert order.state == "confirmed"
    wrong = buyer.post(at_reply, {"file": SimpleUploadedFile("back.xlsx", b"no")})
    assert re.search("damaged or no workbook", text_of(wrong, 422))
    assert "This field is required" in text_of(buyer.post(at_reply, {}), 422)
