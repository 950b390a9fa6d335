"""
Numbers, money, dates and lengths as people read them: the one place that writes them, for pages, text and workbooks.

Babel knows how they are written. On the pages of a site that names its country numbers are written as there; elsewhere
digits stand in groups of three with a narrow space between them, which no country takes for a decimal sign. What goes
into the field of a form is written without groups (`typed`). Lengths in working steps are written so that a tape can
find them, rounded in a stated direction. Pure: no Django.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import ceil, floor

from babel import Locale
from babel.dates import format_date
from babel.numbers import parse_pattern

from takeoff.units.country import habit_of, locale_of
from takeoff.units.exact import SCALE, from_ticks
from takeoff.units.lengths import FOOT, INCH, NARROW_SPACE, SIXTEENTH, show_length
from takeoff.units.money import minor_digits

ENGLISH = Locale("en")  # the language of the pages
_country: ContextVar[str] = ContextVar("country", default="")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_MINUS = str.maketrans({"-": "−"})
_PLAIN = _MINUS | {ord(","): NARROW_SPACE}
_NO_PRIMES = str.maketrans(dict.fromkeys("'’", NARROW_SPACE))


@contextmanager
def written_as_in(country: str) -> Iterator[None]:
    r"""
    Write numbers as a country does (ISO 3166; empty: as no country in particular) until the end of the block.

    >>> with written_as_in("DE"):
    ...     decimal(Decimal("1234.5"))
    '1.234,5'
    """
    before = _country.set(country)
    try:
        yield
    finally:
        _country.reset(before)


def write_as_in(country: str) -> None:
    """Write numbers as a country does until the end of the block of `written_as_in` that this stands in."""
    _country.set(country)


def decimal(value: Decimal | int) -> str:
    """
    Return a number in groups of digits, with all its decimals and no trailing zeros.

    >>> decimal(Decimal("-1.50")), decimal(100)
    ('−1.5', '100')
    """
    return _written(Decimal(value), _country.get())


def typed(value: Decimal | int, country: str) -> str:
    """
    Return a number as a person at a site of a country types it into a form: with its decimal sign, without groups.

    >>> typed(Decimal("1234.50"), "NO"), typed(Decimal("1234.50"), "")
    ('1234,5', '1234.5')
    """
    return f"{Decimal(value).normalize():f}".replace(".", habit_of(country).decimal)


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
    return f"{fixed(Decimal(minor).scaleb(-digits), digits)} {currency}"


def fixed(value: Decimal, places: int) -> str:
    """
    Return a number with as many decimals as are asked for; it has no more than those.

    >>> fixed(Decimal("1.5"), 2)
    '1.50'
    """
    return _written(value, _country.get(), places)


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


def exactly(ticks: int, unit: str) -> str:
    r"""
    Return a length as the site writes it, never rounded, for reading: `parse_length` reads it where no country is told.

    >>> exactly(43_114_309_250, "ft").split("\u202f")
    ['14', '145\' 1 3/8"']
    """
    # A prime between thousands would stand for feet.
    return _NUMBER.sub(lambda found: decimal(Decimal(found[0])).translate(_NO_PRIMES), show_length(ticks, unit))


def near(ticks: int | Fraction, unit: str) -> str:
    r"""
    Return a length for a step of working.

    unit : the site's. ft gives feet and inches to the nearest 1/16 in, below one foot else to 0.01 in; m to 0.1 mm.

    >>> near(Fraction(2_000_906), "ft"), near(3_048_000, "ft")
    ('7.88 in', '1\' 0"')
    """
    if unit == "m":
        return exactly(_to(ticks, SCALE // 10), unit)
    if ticks % SIXTEENTH == 0:
        return exactly(int(ticks), unit)
    if not -FOOT < ticks < FOOT:
        return exactly(_to(ticks, SIXTEENTH), unit)
    inches = Fraction(ticks) * SCALE / INCH
    # A thousandth of an inch is how diameters and offsets are given.
    return f"{number(_to(inches, SCALE // 1000 if inches % (SCALE // 1000) == 0 else SCALE // 100))} in"


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
    return exactly(ceil(Fraction(ticks) / grid) * grid, unit)


def down(ticks: int | Fraction, unit: str) -> str:
    r"""
    Return a length that must not promise too much: down to a whole 1/16 in, or a whole millimetre.

    >>> down(30_480_001, "ft"), down(1_077_000, "ft"), down(30_480_001, "m")
    ('10\' 0"', '4 3/16"', '3.048 m')
    """
    grid = SIXTEENTH if unit == "ft" else SCALE
    return exactly(floor(Fraction(ticks) / grid) * grid, unit)


@lru_cache(maxsize=1 << 14)
def _written(value: Decimal, country: str, places: int | None = None) -> str:
    """Return a number as a country writes it; `places` : its decimals, None for those that it has."""
    locale = locale_of(country) if country else ENGLISH
    whole = locale.decimal_formats[None].pattern.partition(".")[0]
    decimals = "#" if places is None else "0" * places
    pattern = parse_pattern(f"{whole}.{decimals}" if decimals else whole)
    text = str(pattern.apply(value, locale, decimal_quantization=False))
    return text.translate(_MINUS if country else _PLAIN)


def _to(ticks: int | Fraction, grid: int) -> int:
    """Return ticks to the nearest whole `grid`, halves up."""
    return floor(Fraction(ticks) / grid + Fraction(1, 2)) * grid
