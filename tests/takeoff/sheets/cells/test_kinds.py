"""Cells: what they become by the kind of their column, and what no column can hold."""

from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from takeoff.sheets.cells.kinds import (
    Choice,
    Choices,
    Dates,
    Day,
    Email,
    Moment,
    Money,
    Names,
    Number,
    Reading,
    Reference,
    Text,
    Whole,
    YesNo,
    lookalike,
    one_of,
    plain_word,
    with_article,
)
from takeoff.sheets.cells.measured import Length
from takeoff.sheets.cells.problems import CellError
from takeoff.sheets.registry import tables


@pytest.mark.parametrize("cell", [float("nan"), float("inf"), -1e308, 10**30, 1e-30], ids=repr)
def test_a_number_beyond_all_bounds_is_read_as_words_or_refused_by_every_column(cell):
    for table in tables():
        for column in table.columns:
            read = column.kind.reader(Reading(), None)
            with suppress(CellError):
                assert isinstance(read(cell), str), f"{table.name} {column.name}"


def test_what_is_too_much_to_add_up_is_refused():
    number, length = Number().reader(Reading(), None), Length().reader(Reading(), None)
    assert number("1e9") == 10**9
    assert length("1000000 m") == 10**9
    with pytest.raises(CellError, match="at most 1\u202f000\u202f000\u202f000"):
        number("1000000000.0001")
    with pytest.raises(CellError, match="at most 1000 km"):
        length("1000000.001 m")


def reads(kind, cell, **site):
    return kind.reader(Reading(**site), None)(cell)


@pytest.mark.parametrize(
    ("kind", "cell", "value"),
    [
        (Text(), "  a\n b ", "a b"),
        (Text(lines=True), "a\n\n b  c", "a\nb c"),
        (Text(3), "abc", "abc"),
        (Text(), 3.0, "3"),
        (Text(), 2.5, "2.5"),
        (Text(), True, "TRUE"),
        (Email(), "orders@example.com", "orders@example.com"),
        (Whole(1, 4), 4, 4),
        (Whole(1, 4), "1", 1),
        (Number(), 0, 0),
        (Number(above=True), "0.0001", Decimal("0.0001")),
        (Number(least=None), "-3", -3),
        (Number(most=Decimal(5)), 5, 5),
        (Choice(("part received",), also=(("partly", "part received"),)), "Part-Received", "part received"),
        (Choice(("part received",), also=(("partly", "part received"),)), "PARTLY", "part received"),
        (Choices(("a", "b", "c")), "c, A", "a, c"),
        (YesNo(), "Y", True),
        (YesNo(), "0", False),
        (YesNo(), False, False),
        (Day(), "2026-03-04", date(2026, 3, 4)),
        (Day(), datetime.fromisoformat("2026-03-04"), date(2026, 3, 4)),
        (Dates(), "2026-12-25, 2026-01-01,2026-12-25", ["2026-01-01", "2026-12-25"]),
        (Dates(), date(2026, 1, 1), ["2026-01-01"]),
        (Names(), " night  shift,Crew A, NIGHT SHIFT,, ", ["Crew A", "night shift"]),
        (Names(), "Rene\u0301,Ren\u00e9", ["Ren\u00e9"]),
        (Moment(), "2026-03-04", datetime(2026, 3, 4, tzinfo=UTC)),
        (Moment(), "2026-03-04 14:30", datetime(2026, 3, 4, 14, 30, tzinfo=UTC)),
        (Moment(end_of_day=True), "2026-03-04", datetime(2026, 3, 4, 23, 59, 59, 999_999, tzinfo=UTC)),
        (Moment(end_of_day=True), "2026-03-04 14:30", datetime(2026, 3, 4, 14, 30, tzinfo=UTC)),
        (Reference(to="run", longest=4), " CB-1 ", "CB-1"),
    ],
)
def test_a_cell_becomes_its_value(kind, cell, value):
    assert reads(kind, cell) == value


@pytest.mark.parametrize(
    ("kind", "cell", "expected"),
    [
        (Text(3), "abcd", "at most 3 characters, there are 4"),
        (Text(), "a\x00b", "text without control characters"),
        (Text(), date(2026, 3, 4), "text, not a date"),
        (Email(), "orders@example", "an e-mail address such as"),
        (Email(), f"{'a' * 64}@{'b' * 190}.com", "an e-mail address such as"),
        (Whole(1, 4), 5, "a whole number from 1 to 4"),
        (Whole(1, 4), 0, "a whole number from 1 to 4"),
        (Whole(), 1.5, "a whole number, 0 or more"),
        (Whole(), "1_0", "a whole number, 0 or more"),
        (Number(), -1, "a number with at most four decimal places, 0 or more"),
        (Number(above=True), 0, "above 0"),
        (Number(most=Decimal(5)), "5.0001", "at most 5"),
        (Number(), "0.00001", "at most four decimal places"),
        (Choice(("straight", "tee")), "strait", "one of straight, tee (did you mean straight?)"),
        (Choices(("a", "b")), "a, x", "one of a, b"),
        (YesNo(), "maybe", "yes or no"),
        (Day(), "2026-03-04 14:30", "a date without a time"),
        (Day(), "20260304", "a date such as"),
        (Day(), "1989-12-31", "a year from 1990 to 2200"),
        (Day(), 5, "a date such as"),
    ],
)
def test_what_a_cell_cannot_be_is_told(kind, cell, expected):
    with pytest.raises(CellError) as refused:
        reads(kind, cell)
    assert expected in refused.value.expected


def test_years_are_taken_from_1990_to_2200():
    assert [reads(Day(), f"{year}-01-01").year for year in (1990, 2200)] == [1990, 2200]
    with pytest.raises(CellError):
        reads(Day(), "2201-01-01")


def test_money_comes_in_whole_minor_units_of_the_currency():
    assert reads(Money(), "12.34") == 1234
    assert reads(Money(), 0) == 0
    assert reads(Money(), "12", money_digits=0) == 12
    for cell, digits in (("12.345", 2), ("1.5", 0), ("-1", 2), ("10000000000000", 2)):
        with pytest.raises(CellError, match="money"):
            reads(Money(), cell, money_digits=digits)


def test_the_end_of_a_day_is_that_of_the_site_though_clocks_change_that_night():
    oslo = ZoneInfo("Europe/Oslo")
    # Summer time in Europe begins on the last Sunday of March: that day has 23 hours (directive 2000/84/EC).
    end = reads(Moment(end_of_day=True), "2027-03-28", tz=oslo)
    start = reads(Moment(), "2027-03-28", tz=oslo)
    assert end.astimezone(UTC) - start.astimezone(UTC) == timedelta(hours=23, microseconds=-1)
    assert end.date() == date(2027, 3, 28)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (True, "yes"), (False, "no"), (Decimal("1.50"), "1.5"), (Decimal("1E+2"), "100"), ("x", "x"),
        (datetime(2026, 3, 4, 14, 30, tzinfo=ZoneInfo("Europe/Oslo")), "2026-03-04T13:30:00+00:00"),
        (date(2026, 3, 4), "2026-03-04"),
    ],
)  # fmt: skip
def test_a_value_has_one_spelling(value, written):
    assert Text().written(value) == written


def test_words_are_compared_without_case_and_alike_letters():
    assert plain_word(" Seal-Width_1 ") == "sealwidth1"
    assert lookalike("CBD-l") == lookalike("cbd-1") == lookalike("CBD-I")
    assert lookalike("B0") == lookalike("bO")
    assert [with_article("item"), with_article("run")] == ["an item", "a run"]
    assert one_of([str(number) for number in range(61)], "x") == "a name that is known"
    assert one_of([str(number) for number in range(60)], "x").startswith("one of 0, 1")
