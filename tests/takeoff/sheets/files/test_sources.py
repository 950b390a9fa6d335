"""Files that are read, and files that are refused whole."""

import io
import zipfile
from datetime import datetime

import pytest
from openpyxl import Workbook
from openpyxl.worksheet.formula import ArrayFormula

from takeoff.sheets.files import sources
from takeoff.sheets.files.sources import FormulaCell, Sheet, SourceError, read_file, read_path
from tests.takeoff.sheets.books import workbook


def csv(text: str, name: str = "items.csv", encoding: str = "utf-8") -> Sheet:
    (sheet,) = read_file(io.BytesIO(text.encode(encoding)), name)
    return sheet


def saved(book: Workbook) -> io.BytesIO:
    file = io.BytesIO()
    book.save(file)
    file.seek(0)
    return file


def test_a_workbook_gives_its_sheets_with_the_numbers_of_their_rows():
    content = workbook({"items": [["item", "unit"], ["A", "each"], [None, None], ["B", 2.5]], "empty": []})

    items, empty = read_file(io.BytesIO(content), "Package.XLSX")

    assert (items.name, items.header) == ("items", ("item", "unit"))
    assert items.rows == [(2, ("A", "each")), (4, ("B", 2.5))]
    assert (empty.header, empty.rows) == ((), [])


def test_a_workbook_keeps_dates_and_marks_formulas_and_errors():
    book = Workbook()
    sheet = book.active
    sheet.title = "items"
    sheet.append(["a", "b", "c", "d"])
    sheet.append([datetime(2026, 3, 4), "=1+1", "#N/A", "text"])  # noqa: DTZ001  # what a cell holds
    sheet["A3"] = ArrayFormula("A3:A4", "=SUM(B1:B2)")

    (read,) = read_file(saved(book), "x.xlsx")

    assert read.rows[0] == (2, (datetime(2026, 3, 4), FormulaCell("=1+1"), FormulaCell("#N/A"), "text"))  # noqa: DTZ001
    assert isinstance(read.rows[1][1][0], FormulaCell)


def test_hidden_sheets_are_not_read():
    book = Workbook()
    book.active.title = "items"
    book.active.append(["item"])
    hidden = book.create_sheet("lists")
    hidden.append(["x"])
    hidden.sheet_state = "hidden"

    assert [sheet.name for sheet in read_file(saved(book), "x.xlsx")] == ["items"]


def test_a_size_that_the_file_misstates_loses_no_rows():
    content = workbook({"items": [["item"], *[[f"I{number}"] for number in range(50)]]})
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for member in old.namelist():
            new.writestr(member, old.read(member).replace(b'ref="A1:A51"', b'ref="A1:A2"'))

    (sheet,) = read_file(out, "x.xlsx")
    assert len(sheet.rows) == 50


def test_a_csv_is_read_in_utf_8_with_or_without_its_mark():
    assert csv("item,unit\nA,each\n").rows == [(2, ("A", "each"))]
    assert csv("item,unit\nÄ,each\n", encoding="utf-8-sig").header == ("item", "unit")


@pytest.mark.parametrize("mark", [";", "\t", ","])
def test_a_csv_may_separate_by_comma_semicolon_or_tab(mark):
    assert csv(f"item{mark}unit\nA{mark}each\n").rows == [(2, ("A", "each"))]


def test_a_csv_keeps_quoted_text_and_skips_empty_lines():
    sheet = csv('item,description\n\nA,"one, two"\n , \nB,=1+1\n')

    assert sheet.rows == [(3, ("A", "one, two")), (5, ("B", FormulaCell("=1+1")))]


def test_a_folder_tells_every_csv_that_cannot_be_read(tmp_path):
    (tmp_path / "items.csv").write_bytes(b"item\n\xfc\n")
    (tmp_path / "runs.csv").write_text("run\nR-1\n")
    (tmp_path / "suppliers.csv").write_bytes(b'supplier\n"A\n')
    with pytest.raises(SourceError, match=r"the CSV 'items' is not in UTF-8: .*; the CSV 'suppliers' is damaged"):
        read_path(tmp_path)


def test_a_folder_gives_its_csvs_and_ignores_the_rest(tmp_path):
    (tmp_path / "runs.csv").write_text("run\nR-101\n")
    (tmp_path / "items.CSV").write_text("item\nA\n")
    (tmp_path / "readme.txt").write_text("not a table")
    (tmp_path / "more").mkdir()

    assert [sheet.name for sheet in read_path(tmp_path)] == ["items", "runs"]


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("x.xlsx", b"", "'x.xlsx' is damaged or no workbook: save it as .xlsx"),
        ("x.xlsx", b"PK\x03\x04 not a zip", "'x.xlsx' is damaged or no workbook: save it as .xlsx"),
        ("x.xlsx", workbook({"items": [["item"]]})[:900], "'x.xlsx' is damaged or no workbook: save it as .xlsx"),
        ("x.xls", b"\xd0\xcf", "'x.xls' is neither a workbook (.xlsx) nor a CSV (.csv)"),
        ("x", b"", "'x' is neither a workbook (.xlsx) nor a CSV (.csv)"),
        ("items.csv", "Ä".encode("latin-1"), "the CSV 'items' is not in UTF-8: save it as CSV UTF-8"),
        ("items.csv", b"item\x00", "the CSV 'items' holds bytes that are no text"),
        ("items.csv", b'item\n"open', "the CSV 'items' is damaged at line 2: unexpected end of data"),
    ],
)
def test_a_broken_file_is_refused_with_the_reason(name, content, why):
    with pytest.raises(SourceError) as refused:
        read_file(io.BytesIO(content), name)
    assert str(refused.value) == why


def test_an_archive_that_is_no_workbook_is_refused():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("hello.txt", "hello")

    with pytest.raises(SourceError, match=r"'x\.xlsx' is damaged or no workbook \(KeyError\)"):
        read_file(file, "x.xlsx")


def replaced(member: str, content: bytes) -> io.BytesIO:
    """Return a workbook with one member replaced or added."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook({"items": [["item"], ["A"]]}))) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            if name != member:
                new.writestr(name, old.read(name))
        new.writestr(member, content)
    return out


@pytest.mark.parametrize("content", [b"", b"<worksheet", b"\xff\xfe\x00", b"<a/>" * 2])
def test_a_workbook_with_broken_xml_is_refused(content):
    with pytest.raises(SourceError, match="is damaged or no workbook"):
        read_file(replaced("xl/workbook.xml", content), "x.xlsx")


@pytest.mark.parametrize("member", ["xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/workbook.xml"])
@pytest.mark.parametrize("before", [b"", b"<!-- x -->" * 20_000], ids=["at once", "after a long comment"])
def test_xml_that_declares_entities_is_refused_wherever_it_stands(member, before):
    bomb = before + b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><worksheet>&b;</worksheet>'

    with pytest.raises(SourceError, match=r"'x\.xlsx' declares XML entities, which no spreadsheet needs"):
        read_file(replaced(member, bomb), "x.xlsx")


def test_an_archive_that_unpacks_to_too_much_is_refused_before_it_is_read():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for number in range(3):
            archive.writestr(f"xl/worksheets/sheet{number}.xml", b"\0" * (80 * sources.MEGABYTE))
    assert file.tell() < sources.MEGABYTE

    with pytest.raises(SourceError, match=r"'x\.xlsx' unpacks to more than 200 MB"):
        read_file(file, "x.xlsx")


def test_rows_cells_and_columns_are_limited(monkeypatch):
    monkeypatch.setattr(sources, "MOST_ROWS", 3)
    with pytest.raises(SourceError, match="there are more than 3 rows: load them in parts"):
        csv("item\n" + "A\n" * 4)
    with pytest.raises(SourceError, match="there are more than 3 rows: load them in parts"):
        read_file(io.BytesIO(workbook({"items": [["item"], *[["A"]] * 4]})), "x.xlsx")
    monkeypatch.setattr(sources, "MOST_CELLS", 5)
    with pytest.raises(SourceError, match="there are more than 5 cells, empty ones included: load them in parts"):
        read_file(io.BytesIO(workbook({"items": [["a", "b"], *[["A", "B"]] * 3]})), "x.xlsx")
    with pytest.raises(SourceError, match="more than 200 columns"):
        csv(",".join(f"c{number}" for number in range(201)))


def test_a_small_file_that_names_a_far_corner_is_refused(monkeypatch):
    monkeypatch.setattr(sources, "MOST_CELLS", 100_000)
    book = Workbook()
    for number in range(3):
        sheet = book.create_sheet(f"s{number}")
        sheet["A1"], sheet["A50000"] = "item", "x"

    with pytest.raises(SourceError, match="there are more than 100000 cells, empty ones included"):
        read_file(saved(book), "x.xlsx")


def test_a_path_that_is_too_large_or_missing_is_refused(tmp_path, monkeypatch):
    with pytest.raises(SourceError, match=r"there is no file or folder 'none\.csv'"):
        read_path(tmp_path / "none.csv")
    with pytest.raises(SourceError, match="holds no CSV"):
        read_path(tmp_path)
    (tmp_path / "items.csv").write_text("item\n")
    monkeypatch.setattr(sources, "MOST_BYTES", 2)
    with pytest.raises(SourceError, match=r"'items\.csv' is larger than"):
        read_path(tmp_path / "items.csv")
