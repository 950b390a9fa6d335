"""Kinds of columns that hold something measured: lengths, volumes, weights, percentages, cable sizes. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any, ClassVar

from takeoff.sheets.cells.kinds import Kind, Reader, Reading, as_decimal, as_text, exact
from takeoff.sheets.cells.problems import CellError, show_cell
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.lengths import (
    EXPECTED,
    EXPECTED_ON,
    EXPECTED_WITH_UNIT,
    EXPECTED_WITH_UNIT_ON,
    LengthError,
    length_unit,
    parse_length,
    parse_number,
    show_length,
)
from takeoff.units.measures import (
    PERCENT_EXPECTED,
    VOLUME_SPELLINGS,
    WEIGHT_PER_LENGTH_SPELLINGS,
    WEIGHT_SPELLINGS,
    Measure,
    MeasureError,
    measure_unit,
    parse_percent,
    parse_volume,
    parse_weight,
    parse_weight_per_length,
)
from takeoff.units.sizes import BOTH_KINDS, SizeError, parse_size, size_unit

LONGEST = to_ticks(10**9)  # 1000 km, so that the sums of a whole site stay within the books
MUCH = 10  # times what is usual: a bare number is of another unit
NOT_A_DATE = "not a date: the spreadsheet made a date of it, so format the cell as text"


@dataclass(frozen=True, slots=True)
class Length(Kind):
    """
    A length, given as Decimal millimetres.

    A bare number is in the header's unit, else the site's; with `needs_unit` it is refused where the header names
    none. `above_zero` refuses 0; a length below 0 is always refused. `usual` is the longest that is usual, in
    millimetres: a bare number of more than ten times that, in a unit that nobody wrote, is another unit's.
    """

    label: ClassVar[str] = "length"
    notation: ClassVar[str] = "length"
    needs_unit: bool = False
    above_zero: bool = False
    usual: Decimal | None = None

    def header_unit(self, text: str) -> str | None:
        """Return ft, in, m, mm or cm."""
        return length_unit(text)

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives Decimal millimetres."""
        most = None if self.usual is None or unit else to_ticks(self.usual * MUCH)
        bare = unit or (None if self.needs_unit else reading.unit)
        expected = (EXPECTED_ON if bare else EXPECTED_WITH_UNIT_ON)[reading.unit]
        above_zero = self.above_zero

        def read(cell: Any) -> Decimal:
            ticks = _ticks(cell, bare, expected)
            if ticks < 0 or (above_zero and ticks == 0):
                raise CellError(f"{expected}, {'above 0' if above_zero else 'not below 0'}")
            if most is not None and ticks > most and _is_bare(cell):
                said = f"{show_cell(cell)} {bare} would be more than {show_length(most, reading.unit)}"
                raise CellError(f"a length with its unit: {said}")
            return from_ticks(ticks)

        return read

    def written(self, value: Any) -> str:
        """Return the length in millimetres, whatever unit it was written in."""
        return f"{value.normalize():f} mm"


@dataclass(frozen=True, slots=True)
class Lengths(Kind):
    """Lengths separated by commas, given as a list of whole ticks (1/10 000 mm), shortest first."""

    label: ClassVar[str] = "lengths"
    notation: ClassVar[str] = "length"

    def header_unit(self, text: str) -> str | None:
        """Return ft, in, m, mm or cm."""
        return length_unit(text)

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives ticks."""
        bare = unit or reading.unit
        sample = "500 ft, 1000 ft" if reading.unit == "ft" else "150 m, 300 m"
        expected = f"lengths separated by commas, such as {sample}"

        def read(cell: Any) -> list[int]:
            parts = re.split("[,;]", cell) if isinstance(cell, str) else [cell]
            found = sorted({_ticks(part, bare, expected) for part in parts})
            if found[0] <= 0:
                raise CellError(f"{expected}, above 0")
            return found

        return read


@dataclass(frozen=True, slots=True)
class Amount(Kind):
    """
    The amount of a rule: a number, or a length for the measure `length`.

    Given as a Decimal number when the cell is one, as `Measure(millimetres, "mm")` when it names a unit of length.
    """

    label: ClassVar[str] = "number, or length with its unit"
    notation: ClassVar[str] = "length"

    def header_unit(self, text: str) -> str | None:
        """Return ft, in, m, mm or cm."""
        return length_unit(text)

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives a Decimal or a Measure."""
        expected = "a number with at most four decimal places, or a length with its unit"

        def read(cell: Any) -> Decimal | Measure:
            ticks: int
            if unit is None:
                try:
                    number = as_decimal(cell, expected)
                except CellError:
                    if not isinstance(cell, str):
                        raise
                else:
                    return _exact_number(number, expected)
            ticks = _ticks(cell, unit, expected)
            if ticks < 0:
                raise CellError(f"{expected}, not below 0")
            return Measure(from_ticks(ticks), "mm")

        return read


@dataclass(frozen=True, slots=True)
class Percent(Kind):
    """A percentage, given as a fraction: 0.05 for 5 %. A bare 5 is refused unless the header says (%)."""

    label: ClassVar[str] = "percent"
    notation: ClassVar[str] = "number"
    least: Decimal = Decimal(0)
    most: Decimal = Decimal(1)

    def header_unit(self, text: str) -> str | None:
        """Return %."""
        return "%" if text.strip() == "%" else None

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives a Decimal fraction."""
        expected = PERCENT_EXPECTED if unit is None else "a percentage such as 5"
        expected += f", from {_percent(self.least)} to {_percent(self.most)}"

        def read(cell: Any) -> Decimal:
            if isinstance(cell, date | time | timedelta):
                raise CellError(f"{expected}, {NOT_A_DATE}")
            text = as_text(cell)
            if unit is not None and isinstance(cell, str | int | float) and not text.endswith("%"):
                text += "%"
            try:
                fraction = parse_percent(text)
            except MeasureError as error:
                raise CellError(error.expected) from None
            if not self.least <= fraction <= self.most:
                raise CellError(expected)
            return fraction

        return read


@dataclass(frozen=True, slots=True)
class Measured(Kind):
    """What is given as a Measure, as it was entered; a bare number is in the header's unit, else in the site's."""

    notation: ClassVar[str] = "number"
    spellings: ClassVar[Mapping[str, str]]
    parse: ClassVar[Callable[..., Measure]]
    bare: ClassVar[Mapping[str, str]] = {}  # by the site's unit; empty: a bare number is refused

    def header_unit(self, text: str) -> str | None:
        """Return the unit as it is kept."""
        return measure_unit(text, self.spellings)

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives a Measure."""
        bare = unit or self.bare.get(reading.unit)

        def read(cell: Any) -> Measure:
            try:
                return type(self).parse(as_text(cell), bare=bare)
            except MeasureError as error:
                raise CellError(error.expected) from None

        return read


class Volume(Measured):
    """A volume in fl oz, in^3, mL or L."""

    label, spellings, parse = "volume", VOLUME_SPELLINGS, parse_volume


class Weight(Measured):
    """A weight in lb or kg."""

    label, spellings, parse = "weight", WEIGHT_SPELLINGS, parse_weight
    bare: ClassVar[Mapping[str, str]] = {"ft": "lb", "m": "kg"}


class WeightPerLength(Measured):
    """A weight per length in lb/kft or kg/km."""

    label, spellings, parse = "weight per length", WEIGHT_PER_LENGTH_SPELLINGS, parse_weight_per_length
    bare: ClassVar[Mapping[str, str]] = {"ft": "lb/kft", "m": "kg/km"}


@dataclass(frozen=True, slots=True)
class Size(Kind):
    """
    A conductor size in AWG, kcmil or mm², given as its name.

    A bare number is in the header's unit. Without one, a number that is a size of both kinds is refused on a site in
    metres: 300 there can be kcmil or mm².
    """

    label: ClassVar[str] = "cable size"
    notation: ClassVar[str] = "number"

    def header_unit(self, text: str) -> str | None:
        """Return AWG, kcmil or mm2."""
        return size_unit(text)

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives the name of the size."""

        def read(cell: Any) -> str:
            text = as_text(cell)
            bare = text.replace(".", "", 1).isdecimal()
            if unit and bare:
                text = f"{text} {unit}"
            elif bare and reading.unit == "m" and text in BOTH_KINDS:
                raise CellError(f"a size with its unit: {text} {BOTH_KINDS[text]} or {text} mm2")
            try:
                return parse_size(text).name
            except SizeError as error:
                raise CellError(error.expected) from None

        return read


def _percent(fraction: Decimal) -> str:
    return f"{(fraction * 100).normalize():f}%"


def _ticks(cell: Any, bare: str | None, expected: str) -> int:
    """Return a cell's length in ticks."""
    try:
        if cell.__class__ is str:
            ticks = parse_length(cell, bare=bare)
        elif isinstance(cell, date | time | timedelta):
            raise CellError(f"{expected}, {NOT_A_DATE}")
        else:
            number = as_decimal(cell, expected)
            if bare is None:
                raise CellError(expected)
            ticks = parse_number(number, bare=bare)
    except LengthError as error:
        # What the column as a whole takes says more than what a length is, unless the length itself says why.
        raise CellError(expected if error.expected in {EXPECTED, EXPECTED_WITH_UNIT} else error.expected) from None
    if ticks > LONGEST:
        raise CellError("a length that can be built, at most 1000 km")
    return ticks


def _is_bare(cell: Any) -> bool:
    """Return whether a cell is a number that names no unit."""
    return cell.__class__ is not str or not re.search(r"[^\d.,\s]", cell)


def _exact_number(number: Decimal, expected: str) -> Decimal:
    if number < 0:
        raise CellError(expected)
    return exact(number, expected)
