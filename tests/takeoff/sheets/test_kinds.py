"""Every kind of column takes what it should and says what it expected of the rest."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from takeoff.sheets.kinds import Choice, Choices, Day, Email, Moment, Money, Number, Reading, Text, Whole, YesNo
from takeoff.sheets.measured import (
    Amount,
    Length,
    Lengths,
    Percent,
    Size,
    Volume,
    Weight,
    WeightPerLength,
)
from takeoff.sheets.problems import CellError, show_cell
from takeoff.units.measures import Measure

FEET = Reading(unit="ft", tz=ZoneInfo("America/Chicago"), money_digits=2)
METRES = Reading(unit="m", tz=ZoneInfo("Europe/Berlin"), money_digits=0)
NOON = datetime(2026, 3, 8, 12, 30)  # noqa: DTZ001  # as a cell holds it


def read(kind, cell, unit=None, reading=FEET):
    return kind.reader(reading, unit)(cell)


@pytest.mark.parametrize(
    ("kind", "cell", "value"),
    [
        (Text(), "  R-101 ", "R-101"),
        (Text(), 101, "101"),
        (Text(), 101.0, "101"),
        (Text(), 1.5, "1.5"),
        (Text(), "a\u00a0b\tc", "a b c"),
        (Email(), "orders@example.com", "orders@example.com"),
        (Whole(), 3.0, 3),
        (Whole(), " 3 ", 3),
        (Whole(), "3.000", 3),
        (Number(), 0.1, Decimal("0.1")),
        (Number(), "1.2345", Decimal("1.2345")),
        (Number(), 1e-4, Decimal("0.0001")),
        (Number(least=None), -2, Decimal(-2)),
        (Money(), 4.25, 425),
        (Money(), "19.99", 1999),
        (Choice(("horizontal elbow", "tee")), "Horizontal_Elbow", "horizontal elbow"),
        (Choice(("Cu", "Al"), also=(("copper", "Cu"),)), "COPPER", "Cu"),
        (Choices(("indoor", "outdoor", "trench")), "trench, Indoor,indoor", "indoor, trench"),
        (YesNo(), True, True),
        (YesNo(), "No", False),
        (YesNo(), 1, True),
        (YesNo(), 0.0, False),
        (Day(), date(2026, 3, 8), date(2026, 3, 8)),
        (Day(), datetime(2026, 3, 8), date(2026, 3, 8)),  # noqa: DTZ001
        (Day(), "2026-03-08", date(2026, 3, 8)),
        (Moment(), NOON, NOON.replace(tzinfo=FEET.tz)),
        (Moment(), "2026-03-08 12:30", NOON.replace(tzinfo=FEET.tz)),
        (Moment(), "2026-03-08T12:30+00:00", NOON.replace(tzinfo=UTC)),
        (Moment(), "2026-03-08", datetime(2026, 3, 8, tzinfo=FEET.tz)),
        # The clocks go forward in Chicago that day, which is 23 hours long.
        (Moment(end_of_day=True), "2026-03-08", datetime(2026, 3, 9, 4, 59, 59, 999999, tzinfo=UTC)),
        (Length(), 12, Decimal("3657.6")),
        (Length(), "6 in", Decimal("152.4")),
        (Lengths(), "1000 ft, 500", [1_524_000_000, 3_048_000_000]),
        (Lengths(), 500, [1_524_000_000]),
        (Amount(), 2, Decimal(2)),
        (Amount(), "0.25", Decimal("0.25")),
        (Amount(), "14 in", Measure(Decimal("355.6"), "mm")),
        (Percent(), "5%", Decimal("0.05")),
        (Percent(), 0.05, Decimal("0.05")),
        (Percent(), 0, Decimal(0)),
        (Size(), 500, "500"),
        (Size(), "4/0 AWG", "4/0"),
        (Volume(), "10.1 Fl. Oz.", Measure(Decimal("10.1"), "fl oz")),
        (Weight(), 250, Measure(Decimal(250), "lb")),
        (WeightPerLength(), "2298 kg/km", Measure(Decimal(2298), "kg/km")),
    ],
)
def test_a_good_cell_gives_its_value(kind, cell, value):
    assert read(kind, cell) == value


@pytest.mark.parametrize(
    ("kind", "header", "cell", "value"),
    [
        (Length(needs_unit=True), "in", 36, Decimal("914.4")),
        (Length(needs_unit=True), "in", "2 ft", Decimal("609.6")),
        (Length(), "mm", "450", Decimal(450)),
        (Percent(), "%", 5, Decimal("0.05")),
        (Percent(), "%", "5 %", Decimal("0.05")),
        (Volume(), "fl oz (US)", 10.1, Measure(Decimal("10.1"), "fl oz")),
        (Weight(), "kg", 113, Measure(Decimal(113), "kg")),
        (WeightPerLength(), "lb/1000 ft", 1544, Measure(Decimal(1544), "lb/kft")),
        (Amount(), "in", 14, Measure(Decimal("355.6"), "mm")),
        (Lengths(), "m", "100, 200", [1_000_000_000, 2_000_000_000]),
    ],
)
def test_a_bare_number_takes_the_unit_of_the_header(kind, header, cell, value):
    assert read(kind, cell, kind.header_unit(header)) == value


@pytest.mark.parametrize("kind", [Text(), Whole(), Day(), Choice(("a",)), Size()])
def test_other_kinds_have_no_unit(kind):
    assert kind.header_unit("in") is None


def test_a_site_in_metres_reads_bare_numbers_its_way():
    assert read(Length(), 3.2, reading=METRES) == 3200
    assert read(Weight(), 113, reading=METRES) == Measure(Decimal(113), "kg")
    assert read(WeightPerLength(), 2298, reading=METRES) == Measure(Decimal(2298), "kg/km")
    assert read(Money(), 500, reading=METRES) == 500
    assert read(Moment(), NOON, reading=METRES).utcoffset() == timedelta(hours=1)


DATE = date(2026, 12, 6)


@pytest.mark.parametrize(
    ("kind", "cell", "expected"),
    [
        (Text(), DATE, "text, not a date: the spreadsheet made a date of it, so format the cell as text"),
        (Text(3), "four", "at most 3 characters, there are 4"),
        (Text(), "a\u200bb", "text without control characters"),
        (Email(), "orders@example", "an e-mail address such as orders@example.com"),
        (Email(), "a b@example.com", "an e-mail address such as orders@example.com"),
        (Whole(), 1.5, "a whole number, 0 or more"),
        (Whole(1, 4), 5, "a whole number from 1 to 4"),
        (Whole(), "1_000", "a whole number, 0 or more"),
        (Whole(), True, "a whole number, 0 or more"),
        (Whole(), "1e99", "a whole number, 0 or more"),
        (Number(), "1.00001", "a number with at most four decimal places, 0 or more"),
        (Number(above=True), 0, "a number with at most four decimal places, above 0"),
        (Number(most=Decimal(180)), 181, "a number with at most four decimal places, 0 or more, at most 180"),
        (Number(), 1e300, "a number with at most four decimal places, 0 or more"),
        (Number(), "nan", "a number with at most four decimal places, 0 or more"),
        (Money(), "1.005", "an amount of money with at most 2 decimal places"),
        (Money(), -1, "an amount of money with at most 2 decimal places"),
        (Choice(("ft", "m")), "yards", "one of ft, m"),
        (Choice(("straight", "tee")), "straigt", "one of straight, tee (did you mean straight?)"),
        (Choices(("indoor", "outdoor")), "indoor, moon", "one of indoor, outdoor"),
        (YesNo(), "perhaps", "yes or no"),
        (Day(), "3/4/2026", "a date such as 2026-03-04"),
        (Day(), 46_000, "a date such as 2026-03-04"),
        (Day(), time(12), "a date such as 2026-03-04"),
        (Day(), NOON, "a date without a time, such as 2026-03-04"),
        (Day(), "0026-03-04", "a date such as 2026-03-04, with a year from 1990 to 2200"),
        (Day(), "20260304", "a date such as 2026-03-04"),
        (Moment(), "noon", "a date, or a date and time, such as 2026-03-04 or 2026-03-04 14:30"),
        (Lengths(), "500, x", "lengths separated by commas, such as 500 ft, 1000 ft"),
        (Lengths(), "500, 0", "lengths separated by commas, such as 500 ft, 1000 ft, above 0"),
        (Amount(), "two", "a number with at most four decimal places, or a length with its unit"),
        (Amount(), -1, "a number with at most four decimal places, or a length with its unit"),
        (Percent(), "101%", "a percentage such as 5% or 0.05, from 0% to 100%"),
        (Size(), 1.5, "a size with its unit: 1.5 kcmil or 1.5 mm2"),
        (
            Amount(),
            "1/64 in",
            "a length that is exact to 1/10 000 mm: 1/16 in or 1/32 in, 0.001 in, 0.001 ft or 0.1 mm are",
        ),
        (
            Percent(),
            DATE,
            "a percentage such as 5% or 0.05, from 0% to 100%, "
            "not a date: the spreadsheet made a date of it, so format the cell as text",
        ),
        (Size(), DATE, "text, not a date: the spreadsheet made a date of it, so format the cell as text"),
        (Size(), 50, "a size with its unit: 50 kcmil or 50 mm2"),
        (Volume(), 10.1, "a volume such as 10.1 fl oz, 18.2 in^3, 300 mL or 0.3 L"),
        (Weight(), "3 stone", "a weight such as 250 lb or 113 kg"),
    ],
)
def test_a_bad_cell_says_what_was_expected(kind, cell, expected):
    with pytest.raises(CellError) as refused:
        read(kind, cell)
    assert refused.value.expected == expected


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        (None, ""),
        (True, "TRUE"),
        (12.0, "12"),
        (0.1, "0.1"),
        (DATE, "2026-12-06"),
        (datetime(2026, 12, 6), "2026-12-06"),  # noqa: DTZ001
        (NOON, "2026-03-08 12:30"),
        ("x" * 200, "x" * 79 + "…"),
    ],
)
def test_a_message_shows_a_cell_as_a_person_sees_it(cell, shown):
    assert show_cell(cell) == shown
