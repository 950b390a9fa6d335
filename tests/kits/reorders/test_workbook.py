import csv
import shutil
import subprocess
import zipfile
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from kits.reorders.order_sheet import ORDER_COLUMNS, RECORDS_NO_ORDER, WHY_COLUMNS
from kits.reorders.workbook import write_workbooks
from kits.shortages.reckon.lines import TooLate
from takeoff.sheets.files.export import text_cell
from takeoff.sheets.files.sheet_writer import FIRST_ROW, HEADER_ROW
from tests.kits.reorders.build import Sender, cable_line, reconciliation, short_line, ticks, walk

OFFICE = shutil.which("soffice") or "soffice"
ORDER, WHY = ([column.title for column in columns] for columns in (ORDER_COLUMNS, WHY_COLUMNS))


def rows_of(sheet, titles) -> list[dict]:
    """The rows below the header up to the totals."""
    body = sheet.iter_rows(min_row=FIRST_ROW, max_row=sheet.max_row - 1)
    return [dict(zip(titles, cells, strict=True)) for cells in body]


def written(tmp_path: Path, *lines, site: Sender | None = None, cables=()):
    [path] = write_workbooks(reconciliation(*lines, cables=cables), site or Sender(), tmp_path)
    return path, load_workbook(path)


def test_a_workbook_has_a_sheet_to_order_from_and_a_sheet_that_says_why(tmp_path):
    path, book = written(tmp_path, short_line())
    assert path.name == "reorder-seals-and-more-2026-03-02.xlsx"
    assert book.sheetnames == ["Order", "Why"]
    assert [cell.value for cell in book["Order"][HEADER_ROW]] == ORDER
    assert [cell.value for cell in book["Why"][HEADER_ROW]] == WHY


def test_what_is_to_come_sooner_has_a_sheet_of_its_own(tmp_path):
    late = (
        TooLate("shipment", "SH-1", ticks(5), date(2026, 4, 6), date(2026, 4, 1), 5),
        TooLate("order", "ORD-2", ticks(3), None, date(2026, 4, 1), None, no_answer=True, sent=date(2026, 2, 2)),
    )
    _, book = written(tmp_path, short_line(order=0, expedite=ticks(8), short=ticks(8), too_late=late))

    assert book.sheetnames == ["Expedite"], "nothing is ordered again"
    first, second = (
        [cell.value for cell in row]
        for row in book["Expedite"].iter_rows(min_row=HEADER_ROW + 1, max_row=HEADER_ROW + 2)
    )
    day = datetime(2026, 4, 1)  # noqa: DTZ001 - a workbook knows no time zone
    assert first[:11] == [
        "SH-1",
        "S-101",
        "sealant",
        "Sealant, cartridge",
        5,
        8,
        "cartridge",
        datetime(2026, 4, 6),  # noqa: DTZ001
        day,
        5,
        "5 days after the need",
    ]
    assert second[7:11] == [None, day, None, "no answer since 2 Feb 2026"]


def test_quantities_prices_and_dates_are_numbers_and_dates(tmp_path):
    _, book = written(tmp_path, short_line(item={"pack": ticks("0.5")}))
    [row] = rows_of(book["Order"], ORDER)
    assert (row["Quantity"].value, row["Pack of"].value, row["Unit price"].value) == (84, 0.5, 7.6)
    assert row["Need by"].value == datetime(2026, 3, 29)  # noqa: DTZ001 - a workbook knows no time zone
    assert [row[title].number_format for title in ("Quantity", "Pack of", "Need by", "Unit price", "Amount")] == [
        "#,##0",
        "#,##0.0###",
        "yyyy-mm-dd",
        "#,##0.00",
        "#,##0.00",
    ]
    [why] = rows_of(book["Why"], WHY)
    assert (why["Need"].value, why["Usable"].value, why["Use"].value, why["Spare"].value) == (84, 13, 6, 5)
    assert why["Order"].value == 84
    assert why["Order by"].value == datetime(2026, 3, 13)  # noqa: DTZ001


def test_what_is_made_for_a_run_is_a_row_for_each_run_with_its_size_and_day(tmp_path):
    first = walk("CB-02", size="2' 0\" × 1' 0\"", order=1, need_by=date(2026, 3, 29))
    second = walk("CB-07", size="1' 6\" × 1' 0\"", order=2, need_by=date(2026, 6, 5))
    plates = short_line(
        order=ticks(3), other_runs=ticks(1), walks=(first, walk("CB-03"), second), item={"pack": ticks(1)}
    )
    _, book = written(tmp_path, plates)
    rows = rows_of(book["Order"], ORDER)
    told = ("No.", "Item", "Run", "Size", "Quantity")
    assert [[row[title].value for title in told] for row in rows] == [
        [1, "sealant", "CB-02", "2' 0\" × 1' 0\"", 1],
        [2, "sealant", "CB-07", "1' 6\" × 1' 0\"", 2],
    ]
    assert [row["Need by"].value.date() for row in rows] == [date(2026, 3, 29), date(2026, 6, 5)]
    (why,) = rows_of(book["Why"], WHY)
    assert why["Other runs"].value == 1
    assert "1 of what is here or coming is made for other runs." in why["How the quantity came about"].value
    assert why["How the quantity came about"].value.count("2 for CB-07, 1' 6\" × 1' 0\"") == 1


def test_cable_is_ordered_by_the_reel_beside_the_items_of_its_supplier(tmp_path):
    _, book = written(tmp_path, short_line(), cables=(cable_line(),))
    item, long, short = rows_of(book["Order"], ORDER)
    assert item["Item"].value == "sealant"
    told = ("No.", "Part", "Item", "Description", "Quantity", "Unit", "Pack of", "Unit price")
    assert [long[title].value for title in told] == [
        2, "0012", "C500", "500 kcmil copper XHHW-2, reel of 1\u202f000' 0\"", 2, "reel", 1, 11_400,
    ]  # fmt: skip
    assert [short[title].value for title in told[4:]] == [1, "reel", 1, 5_700]
    # The first length is missing on 1 June; three days of buffer before it.
    assert long["Need by"].value == datetime(2026, 5, 29)  # noqa: DTZ001 - a workbook knows no time zone
    assert long["Amount"].value == f'=IF(N{FIRST_ROW + 1}="","",ROUND(I{FIRST_ROW + 1}*N{FIRST_ROW + 1},2))'
    _, why = rows_of(book["Why"], WHY)
    assert (why["Item"].value, why["Runs that wait"].value, why["Order"].value) == ("C500", "CB-9", 3)
    assert why["Order by"].value == datetime(2026, 4, 17)  # noqa: DTZ001
    assert why["Gap"].value is None, "feet that add up say nothing of lengths"
    assert why["How the quantity came about"].value == (
        "No reel here or on the way gives all that is to be cut for CB-9; the cut plan buys 3 × 1\u202f000' 0\" and "
        "1 × 500' 0\", the least cable found of the lengths sold. On order: 1 × 1\u202f000' 0\" on PO-3, expected "
        "4 May 2026. Least order 1\u202f500' 0\". Order 2 × 1\u202f000' 0\" and 1 × 500' 0\"."
    )


def test_cable_without_price_lead_time_or_supplier_is_told_so(tmp_path):
    bare = {"cost_of_a_tick": None, "lead": None, "supplier_id": None, "supplier": "", "least": 0}
    path, book = written(tmp_path, cables=(cable_line(ware=bare, order_by=None, on_order=()),))
    assert path.name == "reorder-no-supplier-2026-03-02.xlsx"
    row, _ = rows_of(book["Order"], ORDER)
    assert row["Unit price"].value is None
    [why] = rows_of(book["Why"], WHY)
    assert why["How the quantity came about"].value.endswith("The lead time is not known: there is no day to order by.")


def test_cable_that_is_all_on_order_is_in_no_workbook(tmp_path):
    assert write_workbooks(reconciliation(cables=(cable_line(order=()),)), Sender(), tmp_path) == []


def test_a_part_keeps_its_leading_zeros(tmp_path):
    _, book = written(tmp_path, short_line(item={"supplier_part": "00120"}))
    [row] = rows_of(book["Order"], ORDER)
    assert (row["Part"].value, row["Part"].number_format) == ("00120", "@")


@pytest.mark.parametrize("text", ["#N/A", "#REF!", "TRUE", "1e5", "2026-03-02"])
def test_text_that_looks_like_something_else_stays_text(tmp_path, text):
    _, book = written(tmp_path, short_line(item={"description": text}))
    [row] = rows_of(book["Order"], ORDER)
    assert (row["Description"].value, row["Description"].data_type) == (text, "s")


def test_grade_and_refused_substitutes_stand_beside_what_is_ordered(tmp_path):
    _, book = written(tmp_path, short_line())
    [row] = rows_of(book["Order"], ORDER)
    assert (row["Grade"].value, row["Do not send"].value) == ("butyl rubber", "latex, acrylic, silicone")


def test_the_reasons_name_runs_causes_and_the_arithmetic(tmp_path):
    _, book = written(tmp_path, short_line())
    [why] = rows_of(book["Why"], WHY)
    assert why["Runs that wait"].value == "CB-01, CB-02"
    assert why["What the gap is made of"].value == ("60 not on the kit lists\n12 expired in store\n−1 ordered since")
    assert why["How the quantity came about"].value.endswith("order 84.")


def test_an_item_without_price_or_day_leaves_those_cells_empty(tmp_path):
    _, book = written(tmp_path, short_line(item={"unit_cost": None}, need_by=None, order_by=None))
    [row] = rows_of(book["Order"], ORDER)
    assert (row["Unit price"].value, row["Need by"].value) == (None, None)


@pytest.mark.parametrize(
    ("currency", "price", "shown"),
    [("USD", 7.6, "#,##0.00"), ("JPY", 760, "#,##0"), ("KWD", 0.76, "#,##0.000")],
    ids=["hundredths", "no minor unit", "thousandths"],
)
def test_prices_follow_the_minor_unit_of_the_currency(tmp_path, currency, price, shown):
    _, book = written(tmp_path, short_line(), site=Sender(currency=currency))
    [row] = rows_of(book["Order"], ORDER)
    assert (row["Unit price"].value, row["Unit price"].number_format) == (price, shown)


@pytest.mark.parametrize(("unit", "paper"), [("ft", "1"), ("m", "9")], ids=["Letter", "A4"])
def test_it_prints_across_the_page_with_its_header_on_every_page(tmp_path, unit, paper):
    _, book = written(tmp_path, short_line(), site=Sender(unit=unit))
    for sheet in book.worksheets:
        assert str(sheet.page_setup.paperSize) == paper
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.print_title_rows == f"${HEADER_ROW}:${HEADER_ROW}"
        assert sheet.freeze_panes == f"A{FIRST_ROW}"
        assert sheet.oddFooter.center.text == "Page &P of &N"


def test_it_says_that_it_records_no_order(tmp_path):
    _, book = written(tmp_path, short_line())
    for sheet in book.worksheets:
        assert sheet["A3"].value == RECORDS_NO_ORDER
        assert "records no order" in sheet.oddFooter.right.text


def test_an_ampersand_in_a_name_is_no_code_in_the_footer(tmp_path):
    path, _ = written(tmp_path, short_line(item={"supplier": "A&P"}), site=Sender(name="N & S"))
    with zipfile.ZipFile(path) as archive:
        sheet = archive.read("xl/worksheets/sheet1.xml").decode()
    assert "N &amp;&amp; S · A&amp;&amp;P · Order" in sheet


def test_there_is_no_macro_and_no_link_in_it(tmp_path):
    path, _ = written(tmp_path, short_line())
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
    assert not [name for name in names if "vba" in name.lower() or "externalLink" in name or "macro" in name.lower()]


def test_the_same_day_again_replaces_the_workbook_whole(tmp_path):
    path, _ = written(tmp_path, short_line())
    again, book = written(tmp_path, short_line(item={"description": "another"}))
    assert again == path
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    assert rows_of(book["Order"], ORDER)[0]["Description"].value == "another"


def test_names_that_a_file_cannot_have_still_give_files_apart(tmp_path):
    lines = [
        short_line(item={"supplier": name, "supplier_id": number})
        for number, name in enumerate(("../Bolts", "Bolts", "螺栓", "螺母", "Bölts"))
    ]
    paths = write_workbooks(reconciliation(*lines), Sender(), tmp_path)
    assert len({path.name for path in paths}) == 5
    assert all(path.parent == tmp_path and path.name.isascii() for path in paths)


def test_nothing_short_writes_nothing(tmp_path):
    assert write_workbooks(reconciliation(short_line(short=0, order=0)), Sender(), tmp_path) == []
    assert list(tmp_path.iterdir()) == []


def test_a_long_list_keeps_every_row(tmp_path):
    lines = [short_line(item={"id": n, "code": f"i-{n:05}"}) for n in range(3_000)]
    _, book = written(tmp_path, *lines)
    assert [row["Item"].value for row in rows_of(book["Order"], ORDER)] == [f"i-{n:05}" for n in range(3_000)]
    assert len(rows_of(book["Why"], WHY)) == 3_000


# Text that a spreadsheet would take for a formula, command or another cell, and any other text.
TEXT = st.one_of(
    st.builds(
        lambda first, rest: first + rest,
        st.sampled_from(["=", "+", "-", "@", "\t", "\r", "\n", " =", "＝", "'=", '"', "\x00=", "\x1b-"]),
        st.text(max_size=20),
    ),
    st.text(max_size=40),
    st.sampled_from(
        ['=HYPERLINK("http://x","y")', "=cmd|' /C calc'!A1", "+1+1", "-2+3", "@SUM(A1)", "\t=1", "=" * 40_000]
    ),
)


@settings(max_examples=40, deadline=None)
@given(code=TEXT, other=TEXT)
def test_no_text_ever_starts_a_formula(tmp_path_factory, code, other):
    folder = tmp_path_factory.mktemp("safe")
    words = ("description", "grade", "refuse", "unit", "supplier_part", "supplier")
    line = short_line(item={"code": code, **dict.fromkeys(words, other)})
    [path] = write_workbooks(reconciliation(line), Sender(name=other, ship_to=other, contact=code), folder)
    book = load_workbook(path)
    ours = {"Packs", "Amount", "Gap", "Short"}
    for sheet, titles in ((book["Order"], ORDER), (book["Why"], WHY)):
        for row in sheet.iter_rows(max_row=sheet.max_row - 1):
            for title, cell in zip(titles, row, strict=False):
                if cell.row >= FIRST_ROW and title in ours:
                    assert cell.data_type == "f"
                elif isinstance(cell.value, str):
                    assert cell.data_type == "s"
                    assert not cell.value.lstrip().startswith(("=", "+", "-", "@", "＝"))
                    assert not cell.value.startswith(("\t", "\r", "\n"))
        for cell in sheet[sheet.max_row]:
            assert cell.data_type != "f" or title_of(cell, titles) in {"Item", "Description", "Packs", "Amount"}
    # XML turns a carriage return into a line feed.
    kept = text_cell(code).replace("\r\n", "\n").replace("\r", "\n")
    assert (rows_of(book["Order"], ORDER)[0]["Item"].value or "") == kept


def title_of(cell, titles):
    return titles[cell.column - 1]


@pytest.fixture(scope="session")
def office_home(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("office")


def recalculated(path: Path, home: Path, sheet: int) -> list[list[str]]:
    """What LibreOffice makes of a sheet, its formulas worked out, as rows of text."""
    tokens = f"44,34,76,1,,0,false,true,false,false,false,{sheet}"  # comma, quote, UTF-8, as shown, one sheet
    subprocess.run(
        [OFFICE, "--headless", f"-env:UserInstallation=file://{home}", "--convert-to",
         f"csv:Text - txt - csv (StarCalc):{tokens}", "--outdir", str(path.parent), str(path)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    name = ("Order", "Why")[sheet - 1]
    with (path.parent / f"{path.stem}-{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.office
def test_the_totals_are_right_in_a_spreadsheet(tmp_path, office_home):
    lines = [
        short_line(item={"code": "a"}),
        short_line(
            item={"code": "b", "unit_cost": 1_999, "pack": ticks(10)}, order=ticks("1230"), order_by=date(2026, 3, 20)
        ),
        short_line(item={"code": "c", "unit_cost": None}, order_by=date(2026, 3, 21), timing=ticks(3), short=ticks(85)),
    ]
    path, _ = written(tmp_path, *lines)
    order = recalculated(path, office_home, 1)
    body = [dict(zip(ORDER, row, strict=True)) for row in order[HEADER_ROW:]]
    amounts = [84 * Decimal("7.60"), 1230 * Decimal("19.99")]
    assert [Decimal(row["Amount"]) for row in body if row["Amount"]] == [*amounts, sum(amounts)]
    assert body[2]["Amount"] == ""
    assert [row["Packs"] for row in body] == ["7", "123", "7", "137"]
    assert (body[-1]["Item"], body[-1]["Description"]) == ("3 lines", "1 without a price, not in the total")
    assert body[0]["Need by"] == "2026-03-29"  # gone on 1 April, three days of buffer
    why = [dict(zip(WHY, row, strict=True)) for row in recalculated(path, office_home, 2)[HEADER_ROW:]]
    assert [row["Gap"] for row in why[:3]] == ["71"] * 3
    assert [row["Short"] for row in why[:3]] == ["82", "82", "85"]


@pytest.mark.office
@pytest.mark.parametrize(("unit", "size"), [("ft", "Letter"), ("m", "A4")])
def test_a_long_list_prints_on_several_pages(tmp_path, office_home, unit, size):
    path, _ = written(
        tmp_path, *[short_line(item={"id": n, "code": f"i-{n:05}"}) for n in range(150)], site=Sender(unit=unit)
    )
    subprocess.run(
        [OFFICE, "--headless", f"-env:UserInstallation=file://{office_home}", "--convert-to", "pdf",
         "--outdir", str(tmp_path), str(path)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    pdf = path.with_suffix(".pdf").read_bytes()
    width, height = {"Letter": (792, 612), "A4": (842, 595)}[size]
    boxes = {
        tuple(round(float(number)) for number in box.split())
        for box in (part.split(b"]")[0] for part in pdf.split(b"/MediaBox[")[1:])
    }
    assert boxes == {(0, 0, width, height)}
    assert pdf.count(b"/MediaBox[") > 6
