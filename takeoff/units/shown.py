"""
Numbers, money, dates and lengths as people read them: the one place that writes them, for pages, text and workbooks.

Babel knows how they are written; on screens digits stand in groups of three with a narrow space between them, which no
country takes for a decimal sign. Lengths in working steps are written so that a tape can find them, rounded in a stated
direction. Pure: no Django.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import ceil, floor

from babel import Locale
from babel.dates import format_date
from babel.numbers import NumberPattern, parse_pattern

from takeoff.units.exact import SCALE, from_ticks
from takeoff.units.lengths import FOOT, INCH, NARROW_SPACE, SIXTEENTH, show_length
from takeoff.units.money import minor_digits

ENGLISH = Locale("en")  # the language of the pages
_AS_IT_IS: NumberPattern = parse_pattern("#,##0.#")
_ON_SCREENS = str.maketrans({",": NARROW_SPACE, "-": "−"})


@lru_cache(maxsize=1 << 14)
def decimal(value: Decimal | int) -> str:
    """
    Return a number in groups of three digits, with all its decimals and no trailing zeros.

    >>> decimal(Decimal("-1.50")), decimal(100)
    ('−1.5', '100')
    """
    return _written(Decimal(value), _AS_IT_IS)


def number(ticks: int) -> str:
    r"""
    Return a quantity that comes in ticks.

    >>> number(12_345_000), number(-15_000), number(0)
    ('1\u202f234.5', '−1.5', '0')
    """
    return decimal(from_ticks(ticks))


def percent(fraction: Decimal | Fraction) -> str:
    """
    Return a fraction as a percentage, to a hundredth of a per cent.

    >>> percent(Fraction(95, 100)), percent(Decimal("0.999"))
    ('95 %', '99.9 %')
    """
    return f"{number(round(Fraction(fraction) * 10_000) * (SCALE // 100))} %"


def money(minor: int, currency: str) -> str:
    r"""
    Return whole minor units as an amount of a currency.

    >>> money(1_234_567, "USD"), money(1_234_567, "JPY")
    ('12\u202f345.67 USD', '1\u202f234\u202f567 JPY')
    """
    digits = minor_digits(currency)
    pattern = parse_pattern(f"#,##0.{'0' * digits}" if digits else "#,##0")
    return f"{_written(Decimal(minor).scaleb(-digits), pattern)} {currency}"


def day_month_year(day: date) -> str:
    """
    Return a day as pages write it.

    >>> day_month_year(date(2026, 12, 5))
    '5 Dec 2026'
    """
    return format_date(day, "d MMM y", locale=ENGLISH)


def day_month(day: date) -> str:
    """
    Return a day that is not far off.

    >>> day_month(date(2026, 12, 5))
    '5 Dec'
    """
    return format_date(day, "d MMM", locale=ENGLISH)


def rough(ticks: int | Fraction, unit: str, to: Callable[[Fraction], int] = round) -> str:
    r"""
    Return a length for sums and lists: to 0.1 ft or 0.01 m, up or down by `to`, as near as it comes by default.

    >>> rough(6_654_709_053, "ft", ceil), rough(6_654_709_053, "m", floor)
    ('2\u202f183.4 ft', '665.47 m')
    """
    step, size = (FOOT // 10, Decimal("0.1")) if unit == "ft" else (SCALE * 10, Decimal("0.01"))
    return f"{decimal(to(Fraction(ticks) / step) * size)} {unit}"


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


def _written(value: Decimal, pattern: NumberPattern) -> str:
    return str(pattern.apply(value, ENGLISH, decimal_quantization=False)).translate(_ON_SCREENS)


def _to(ticks: int | Fraction, grid: int) -> int:
    """Return ticks to the nearest whole `grid`, halves up."""
    return floor(Fraction(ticks) / grid + Fraction(1, 2)) * grid
