"""
Volumes, weights, weights per length and percentages as people write them.

pint knows the factors; only the spellings listed here reach it, so a cell can never run an expression. Factors are
exact fractions. Pure: no Django.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from takeoff.units.exact import NotExactError, from_ticks, to_ticks


def _by_spelling(spellings: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """Return units by each of their spellings, their own in lower case among them."""
    return {word: unit for unit, words in spellings.items() for word in (unit.lower(), *words)}


VOLUME_SPELLINGS = _by_spelling(
    {
        "fl oz": (
            *("fl. oz", "fl. oz.", "fl.oz.", "fl.oz", "floz", "fluid ounce", "fluid ounces"),
            *("us fl oz", "fl oz us", "fl oz (us)"),
        ),
        "in^3": ("in3", "in³", "cu in", "cu. in.", "cu.in.", "cubic in", "cubic inch", "cubic inches"),
        "mL": ("cc", "cm3", "cm^3", "cm³", "millilitre", "millilitres", "milliliter", "milliliters"),
        "L": ("litre", "litres", "liter", "liters"),
    }
)
WEIGHT_SPELLINGS = _by_spelling(
    {"lb": ("lbs", "lb.", "lbs.", "pound", "pounds"), "kg": ("kgs", "kilogram", "kilograms")}
)
WEIGHT_PER_LENGTH_SPELLINGS = _by_spelling(
    {
        "lb/kft": ("lbs/kft", "lb/1000ft", "lb/1000 ft", "lbs/1000 ft", "lbs/1000ft", "lb/mft", "lb per 1000 ft"),
        "kg/km": ("kg per km",),
    }
)
# How pint spells what is kept.
_PINT = {
    "fl oz": "US_fluid_ounce",
    "in^3": "inch ** 3",
    "mL": "milliliter",
    "L": "liter",
    "lb": "pound",
    "kg": "kilogram",
    "lb/kft": "pound / foot / 1000",
    "kg/km": "kilogram / kilometer",
}
_AMOUNT = re.compile(r"(?P<number>\d{1,12}(?:\.\d{1,12})?|\.\d{1,12})\s*(?P<unit>\D.*)?")
_PERCENT = re.compile(r"(?P<number>-?(?:\d{1,6}(?:\.\d{1,8})?|\.\d{1,8}))\s*(?P<sign>%|percent|pct)?", re.IGNORECASE)
PERCENT_EXPECTED = "a percentage such as 5% or 0.05"


class MeasureError(ValueError):
    """Text that is no measure of its kind: `found` is what stood there, `expected` what is accepted."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(f"found {found!r}, expected {expected}")
        self.found = found
        self.expected = expected


@dataclass(frozen=True, slots=True)
class Measure:
    """A number of a unit, as it was entered; `unit` in the one spelling that is kept."""

    value: Decimal
    unit: str


@cache
def _registry() -> Any:
    # Made at first use: it reads pint's definitions, which takes a moment. Fractions keep every factor exact.
    from pint import UnitRegistry

    return UnitRegistry(non_int_type=Fraction)


@cache
def factor(unit: str, other: str) -> Fraction:
    """
    Return how many of `other` one of `unit` is, exactly; both spelled as they are kept, or as pint spells them.

    >>> factor("fl oz", "in^3")
    Fraction(231, 128)
    """
    registry = _registry()
    quantity = registry.Quantity(Fraction(1), registry.parse_expression(_PINT.get(unit, unit)).units)
    start = Fraction(registry.parse_expression(_PINT.get(unit, unit)).magnitude)
    end = registry.parse_expression(_PINT.get(other, other))
    return start * Fraction(quantity.to(end.units).magnitude) / Fraction(end.magnitude)


def parse_volume(text: str, *, bare: str | None = None) -> Measure:
    """Return a volume in fl oz (US), in^3, mL or L. Raises MeasureError; `bare` is the unit of a bare number."""
    return _measure(text, bare, VOLUME_SPELLINGS, "a volume such as 10.1 fl oz, 18.2 in^3, 300 mL or 0.3 L")


def parse_weight(text: str, *, bare: str | None = None) -> Measure:
    """Return a weight in lb or kg. Raises MeasureError; `bare` is the unit of a bare number."""
    return _measure(text, bare, WEIGHT_SPELLINGS, "a weight such as 250 lb or 113 kg")


def parse_weight_per_length(text: str, *, bare: str | None = None) -> Measure:
    """Return a weight per length in lb/kft or kg/km. Raises MeasureError; `bare` is the unit of a bare number."""
    expected = "a weight per length such as 1544 lb/kft or 2298 kg/km"
    return _measure(text, bare, WEIGHT_PER_LENGTH_SPELLINGS, expected)


def parse_percent(text: str) -> Decimal:
    """
    Return a percentage as a fraction: 0.05 for `5%` and for `0.05`.

    A bare number of one or more is refused: 5 may mean 5 % or 500 %. Raises MeasureError.
    """
    match = _PERCENT.fullmatch(text.strip())
    if match is None:
        raise MeasureError(text, PERCENT_EXPECTED)
    number = Fraction(match["number"])
    if not match["sign"] and abs(number) >= 1:
        raise MeasureError(text, f"{PERCENT_EXPECTED}; a bare {text.strip()} could be either")
    return _exact(number / 100 if match["sign"] else number, text)


def contents_mm3(value: Decimal, unit: str) -> Fraction:
    """
    Return a volume in mm³, exactly.

    value, unit : as an item keeps them; 1 fl oz (US) is 231/128 in³ (gallon of 231 in³, NIST SP 811 Appendix B).

    >>> contents_mm3(Decimal(1), "in^3") == Fraction(254, 10) ** 3
    True
    """
    return Fraction(value) * factor(unit, "millimeter ** 3")


def kilograms(value: Decimal, unit: str) -> Fraction:
    """Return a weight in kg, exactly; `unit` is lb or kg."""
    return Fraction(value) * factor(unit, "kg")


def kg_per_km(value: Decimal, unit: str) -> Fraction:
    """Return a weight per length in kg/km, exactly; `unit` is lb/kft or kg/km."""
    return Fraction(value) * factor(unit, "kg/km")


def measure_unit(text: str, spellings: Mapping[str, str]) -> str | None:
    """Return the kept spelling of a unit, None for a word that is not listed."""
    return spellings.get(" ".join(text.lower().split()))


def _measure(text: str, bare: str | None, spellings: Mapping[str, str], expected: str) -> Measure:
    match = _AMOUNT.fullmatch(" ".join(text.split()))
    if match is None:
        raise MeasureError(text, expected)
    unit = bare if match["unit"] is None else measure_unit(match["unit"], spellings)
    if unit is None:
        raise MeasureError(text, expected)
    return Measure(_exact(Fraction(match["number"]), text), unit)


def _exact(number: Fraction, text: str) -> Decimal:
    try:
        return from_ticks(to_ticks(number))
    except NotExactError as error:
        raise MeasureError(text, "a number with at most four decimal places") from error
