"""Whatever is written into a workbook is what is on the site afterwards."""

import io
from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from takeoff.models import Item, Section, Site
from takeoff.sheets.files.sources import SourceError, read_file
from takeoff.sheets.services import load_sheets
from takeoff.units.exact import from_ticks
from takeoff.units.lengths import SIXTEENTH, show_length
from tests.takeoff.sheets.books import CATALOGUE, PACKAGE, SITE, load, sheets, told, workbook

pytestmark = pytest.mark.django_db
# Every example runs in the test's own transaction, and each loads over what the ones before it left.
shared = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

# What a workbook can hold and a person can see; a leading = would be a formula, which no column takes.
words = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=20).filter(
    lambda text: text[0] not in "=#"
)
quantities = st.decimals(Decimal("0.0001"), Decimal(10**9), places=4)
cells = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**18), 10**18),
    st.floats(allow_nan=False, allow_infinity=False),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=40),
    st.sampled_from(["12' 6\"", "5%", "yes", "straight", "R-101", "C500", "4/0", "10 fl oz", "=1+1", "#REF!"]),
)


@shared
@given(items=st.lists(st.tuples(words, words, quantities), min_size=1, max_size=8, unique_by=lambda each: each[0]))
def test_items_come_back_as_they_were_written(items):
    rows = [["item", "description", "unit", "pack"], *([code, text, "each", str(pack)] for code, text, pack in items)]

    result = load({**SITE, "items": rows})

    assert told(result) == []
    kept = {item.code: (item.description, item.pack) for item in Item.objects.of(Site.objects.get(slug="north"))}
    assert {code: (text, pack) for code, text, pack in items}.items() <= kept.items()


@shared
@given(
    lengths=st.lists(st.integers(0, 24 * 12 * 16), min_size=1, max_size=12),
    unit=st.sampled_from(["ft", "m"]),
    data=st.data(),
)
def test_sections_come_back_as_they_were_written_in_any_order_of_rows_and_columns(lengths, unit, data):
    columns = data.draw(st.permutations(["run", "seq", "kind", "Length"]))
    columns = [*columns, "gone"]
    numbered = data.draw(st.permutations(list(enumerate(lengths, start=1))))
    before = Section.objects.filter(run__name="R").values_list("seq", flat=True)
    gone = [(seq, 0) for seq in before if seq > len(lengths)]
    rows = [
        [
            {
                "run": "R",
                "seq": seq,
                "kind": "tee",
                "Length": show_length(count * SIXTEENTH, unit),
                "gone": "yes" if (seq, count) in gone else "no",
            }[name]
            for name in columns
        ]
        for seq, count in [*numbered, *gone]
    ]
    run = [["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable"], ["R", "a", "b", 1, 3, 1, "C500"]]

    result = load({**SITE, **CATALOGUE, "runs": run, "sections": [columns, *rows]})

    assert told(result) == []
    kept = Section.objects.of(Site.objects.get(slug="north")).order_by("seq")
    assert [section.length for section in kept] == [from_ticks(count * SIXTEENTH) for count in lengths]
    again = load({"sections": [columns, *rows]})
    assert again.tables[0].counts["unchanged"] == len(lengths)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(table=st.sampled_from(sorted(PACKAGE)), cell=cells, data=st.data())
def test_any_cell_is_taken_or_told_and_nothing_is_half_done(table, cell, data):
    rows = [list(row) for row in PACKAGE[table]]
    row = data.draw(st.integers(0, len(rows) - 1))
    column = data.draw(st.integers(0, len(rows[0]) - 1))
    rows[row][column] = cell
    try:
        written = sheets({**PACKAGE, table: rows})
    except ValueError:
        return  # openpyxl cannot write it: a year before 1900

    result = load_sheets(sheets=written, slug="any", dry_run=True)

    assert not Site.objects.filter(slug="any").exists()
    for problem in result.problems:
        assert problem.expected
        assert problem.sheet or problem.found == "any"


GOOD = workbook({"items": [["item", "description", "unit"], ["A", "x", "each"]]})


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 4000), st.integers(0, 255)), min_size=1, max_size=8))
def test_a_damaged_workbook_is_read_or_refused_and_nothing_else_happens(damage):
    content = bytearray(GOOD)
    for place, byte in damage:
        content[place] = byte
    with suppress(SourceError):
        assert [sheet.name for sheet in read_file(io.BytesIO(bytes(content)), "x.xlsx")]


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_a_csv_or_refused_and_nothing_else_happens(content):
    with suppress(SourceError):
        (sheet,) = read_file(io.BytesIO(content), "items.csv")
        assert sheet.name == "items"
