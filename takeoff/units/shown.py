"""Lengths in working steps: written so that a tape can find them, rounded in a stated direction. Pure: no Django."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from takeoff.units.exact import SCALE, from_ticks
from takeoff.units.lengths import FOOT, INCH, SIXTEENTH, show_length


def near(ticks: int | Fraction, unit: str) -> str:
    r"""
    Return a length for a step of working.

    unit : the site's. ft gives feet and inches to the nearest 1/16 in, below one foot else to 0.01 in; m to 0.1 mm.

    >>> near(Fraction(2_000_906), "ft"), near(3_048_000, "ft")
    ('7.88 in', '1\' 0"')
    """
    if unit == "m":
        return show_length(_to(ticks, SCALE // 10), unit)
    if ticks % SIXTEENTH == 0:
        return show_length(int(ticks), unit)
    if not -FOOT < ticks < FOOT:
        return show_length(_to(ticks, SIXTEENTH), unit)
    inches = Fraction(ticks) * SCALE / INCH
    # A thousandth of an inch is how diameters and offsets are given.
    return f"{from_ticks(_to(inches, SCALE // 1000 if inches % (SCALE // 1000) == 0 else SCALE // 100))} in"


def feet_in(feet: Decimal, unit: str) -> Decimal:
    """
    Return what is kept in feet (a rate, a level of a plan) in the unit of a site, in metres to a millimetre.

    >>> feet_in(Decimal(10), "ft"), feet_in(Decimal(10), "m"), feet_in(Decimal("9.8425"), "m")
    (Decimal('10'), Decimal('3.048'), Decimal('3.000'))
    """
    return feet if unit == "ft" else (feet * FOOT / (1000 * SCALE)).quantize(Decimal("0.001"))


def up(ticks: int | Fraction, unit: str) -> str:
    r"""
    Return a length that must not read short: up to the next 1/16 in, or the next whole millimetre.

    >>> up(30_480_001, "ft"), up(30_480_001, "m")
    ('10\' 0 1/16"', '3.049 m')
    """
    grid = SIXTEENTH if unit == "ft" else SCALE
    return show_length(ceil(Fraction(ticks) / grid) * grid, unit)


def down(ticks: int | Fraction, unit: str) -> str:
    r"""
    Return a length that must not promise too much: down to a whole 1/16 in, or a whole millimetre.

    >>> down(30_480_001, "ft"), down(1_077_000, "ft"), down(30_480_001, "m")
    ('10\' 0"', '4 3/16"', '3.048 m')
    """
    grid = SIXTEENTH if unit == "ft" else SCALE
    return show_length(floor(Fraction(ticks) / grid) * grid, unit)


def _to(ticks: int | Fraction, grid: int) -> int:
    """Return ticks to the nearest whole `grid`, halves up."""
    return floor(Fraction(ticks) / grid + Fraction(1, 2)) * grid
