"""Cells that hold something measured: what they become, and what is said when they do not."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from takeoff.sheets.cells.kinds import Reading
from takeoff.sheets.cells.measured import (
    Amount,
    Length,
    Lengths,
    Percent,
    Size,
    Volume,
    Weight,
    WeightPerLength,
)
from takeoff.sheets.cells.problems import CellError
from takeoff.units.measures import Measure

FEET, METRES = Reading(), Reading(unit="m")


def read(kind, cell, unit=None, site=FEET):
    return kind.reader(site, unit)(cell)


@pytest.mark.parametrize(
    ("kind", "cell", "unit", "site", "value"),
    [
        (Length(), "12", None, FEET, Decimal("3657.6")),
        (Length(), 12, None, METRES, Decimal(12_000)),
        (Length(), 12, "in", METRES, Decimal("304.8")),
        (Length(), 0, None, FEET, Decimal(0)),
        (Length(needs_unit=True), "6 in", None, FEET, Decimal("152.4")),
        (Length(needs_unit=True), 6, "in", FEET, Decimal("152.4")),
        (Length(usual=Decimal(1000)), "10 m", None, FEET, Decimal(10_000)),
        (Length(usual=Decimal(1000)), 10, None, METRES, Decimal(10_000)),
        (Lengths(), "500 ft, 100 ft; 100 ft", None, FEET, [304_800_000, 1_524_000_000]),
        (Lengths(), 3, None, METRES, [30_000_000]),
        (Amount(), "0", None, FEET, Decimal(0)),
        (Amount(), "3 in", None, FEET, Measure(Decimal("76.2"), "mm")),
        (Amount(), 3, "in", FEET, Measure(Decimal("76.2"), "mm")),
        (Amount(), "0 in", None, FEET, Measure(Decimal(0), "mm")),
        (Percent(), "5%", None, FEET, Decimal("0.05")),
        (Percent(), 0.05, None, FEET, Decimal("0.05")),
        (Percent(), 5, "%", FEET, Decimal("0.05")),
        (Percent(), "5%", "%", FEET, Decimal("0.05")),
        (Percent(), "100%", None, FEET, Decimal(1)),
        (Volume(), "300", "mL", FEET, Measure(Decimal(300), "mL")),
        (Weight(), 250, None, FEET, Measure(Decimal(250), "lb")),
        (Weight(), 250, None, METRES, Measure(Decimal(250), "kg")),
        (Weight(), 250, "lb", METRES, Measure(Decimal(250), "lb")),
        (WeightPerLength(), 1544, None, FEET, Measure(Decimal(1544), "lb/kft")),
        (WeightPerLength(), 1544, None, METRES, Measure(Decimal(1544), "kg/km")),
        (Size(), 500, None, FEET, "500"),
        (Size(), 240, "mm2", METRES, "240 mm2"),
        (Size(), "4/0", "mm2", METRES, "4/0"),
        (Size(), "350", None, METRES, "350"),
    ],
)
def test_a_cell_becomes_its_value(kind, cell, unit, site, value):
    assert read(kind, cell, unit, site) == value


@pytest.mark.parametrize(
    ("kind", "cell", "unit", "site", "expected"),
    [
        (Length(), "-1 ft", None, FEET, ", not below 0"),
        (Length(above_zero=True), 0, None, FEET, ", above 0"),
        (Length(needs_unit=True), 6, None, FEET, "a length with its unit, such as 6 1/2 in"),
        (Length(needs_unit=True), "6", None, METRES, "a length with its unit, such as 9 mm"),
        (Length(), date(2026, 3, 4), None, FEET, "not a date"),
        (Length(), timedelta(1), None, FEET, "not a date"),
        (Length(), "12' 13\"", None, FEET, "inches below 12 after feet"),
        (
            Length(usual=Decimal(1000)),
            10.0001,
            None,
            METRES,
            "a length with its unit: 10.0001 m would be",
        ),
        (Length(usual=Decimal(1000)), "11", None, METRES, "a length with its unit: 11 m would be more than 10 m"),
        (Lengths(), "0 ft, 5 ft", None, FEET, "such as 500 ft, 1000 ft, above 0"),
        (Lengths(), "far", None, METRES, "such as 150 m, 300 m"),
        (Amount(), "-3", None, FEET, "a number with at most four decimal places, or a length with its unit"),
        (Amount(), "-3 in", None, FEET, ", not below 0"),
        (Amount(), "0.00001", None, FEET, "at most four decimal places"),
        (Amount(), date(2026, 3, 4), None, FEET, "not a date"),
        (Percent(), "101%", None, FEET, "from 0% to 100%"),
        (Percent(), "-1%", None, FEET, "from 0% to 100%"),
        (Percent(), 5, None, FEET, "a bare 5 could be either"),
        (Percent(), date(2026, 3, 4), None, FEET, "not a date"),
        (Percent(), 500, "%", FEET, "a percentage such as 5, from 0% to 100%"),
        (Volume(), "3 lb", None, FEET, "a volume such as 10.1 fl oz, 18.2 in^3, 300 mL or 0.3 L"),
        (Weight(), "3 mL", None, FEET, "a weight such as 250 lb or 113 kg"),
        (WeightPerLength(), "3 lb", None, FEET, "such as 1544 lb/kft or 2298 kg/km"),
        (Size(), 300, None, METRES, "a size with its unit: 300 kcmil or 300 mm2"),
        (Size(), 240, None, METRES, "a size with its unit: 240 kcmil or 240 mm2"),
    ],
)
def test_what_a_cell_cannot_be_is_told_in_the_units_of_the_site(kind, cell, unit, site, expected):
    with pytest.raises(CellError) as refused:
        read(kind, cell, unit, site)
    assert expected in refused.value.expected


def test_a_header_names_a_unit_of_its_own_kind_only():
    for kind, unit, kept in (
        (Length(), "Inches", "in"), (Lengths(), "m", "m"), (Amount(), "ft", "ft"), (Percent(), " % ", "%"),
        (Volume(), "FL OZ", "fl oz"), (Weight(), "lbs", "lb"), (WeightPerLength(), "kg/km", "kg/km"),
        (Size(), "mm²", "mm2"),
    ):  # fmt: skip
        assert (kind.header_unit(unit), kind.header_unit("stone")) == (kept, None), kind
    assert Length().written(Decimal("3.50")) == "3.5 mm"
