import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.sheets.files.export import LONGEST_TEXT, text_cell

# OWASP, "CSV Injection": cells must not begin with these.
STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


@given(st.one_of(st.text(), st.builds("".join, st.tuples(st.sampled_from([*STARTS, " =", "\x00="]), st.text()))))
def test_no_cell_begins_with_what_starts_a_formula(text):
    cell = text_cell(text)
    assert not cell.startswith(STARTS)
    assert not cell.lstrip().startswith(("=", "+", "-", "@"))


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=200))
def test_plain_text_stays_as_it_is(text):
    if text.lstrip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠")) or "\ufffe" in text or "\uffff" in text:
        assert text_cell(text) in {f"'{text}", f"'{text}".replace("\ufffe", "").replace("\uffff", "")}
    else:
        assert text_cell(text) == text


@pytest.mark.parametrize(
    ("value", "cell"),
    [(None, ""), ("", ""), (12, "12"), (-3, "'-3"), ("a\x00b", "ab"), ("\ud800", ""), ("'=1", "'=1")],
    ids=["nothing", "empty", "a number as text", "negative as text", "control character", "half a character", "quoted"],
)
def test_what_is_no_plain_text_becomes_some(value, cell):
    assert text_cell(value) == cell


def test_a_cell_holds_no_more_than_the_format_allows():
    assert len(text_cell("=" * 50_000)) == LONGEST_TEXT


@given(st.text())
def test_it_comes_back_from_a_csv_as_it_was_written(text):
    buffer = io.StringIO()
    csv.writer(buffer).writerow([text_cell(text), "end"])
    [row] = list(csv.reader(io.StringIO(buffer.getvalue(), newline="")))
    assert row == [text_cell(text), "end"]
