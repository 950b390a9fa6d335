"""
Exact numbers: whole ten-thousandths, called ticks.

A length is a whole number of 1/10 000 mm, a quantity a whole number of 1/10 000 of its item's unit. So 1/16 in
(1.5875 mm), 0.01 ft (3.048 mm) and 1 mm are exact, sums never drift, and two databases agree.
"""

from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

SCALE = 10_000
PLACES = 4
LARGEST = 2**63 - 1  # of a BIGINT column


class NotExactError(ValueError):
    """A number that ten-thousandths cannot hold."""


def to_ticks(value: Decimal | int | str | Fraction) -> int:
    """
    Return `value` as whole ten-thousandths.

    value : a number with at most four decimal places; never a float, which is not exact.
    Raises NotExactError for a fifth decimal place, for what is no finite number, and for what no database column holds.

    >>> to_ticks("1.5875")
    15875
    """
    if value.__class__ is Decimal and value.is_finite():
        return _ticks_of(value)
    if isinstance(value, bool | float):
        raise NotExactError(f"{value!r} is not an exact number: give a decimal, a whole number or text")
    try:
        number = Fraction(value)
    except (ValueError, OverflowError, ZeroDivisionError) as error:
        raise NotExactError(f"{value!r} is not a number") from error
    return _ticks(number, value)


# A site has few different lengths and quantities, each in thousands of rows.
@lru_cache(maxsize=1 << 16)
def _ticks_of(value: Decimal) -> int:
    return _ticks(Fraction(value), value)


def _ticks(number: Fraction, value: object) -> int:
    """Return the ticks of a number; `value` is what errors show."""
    ticks = number * SCALE
    if ticks.denominator != 1:
        raise NotExactError(f"{value} has more than {PLACES} decimal places; at most {PLACES} are kept")
    if abs(ticks.numerator) > LARGEST:
        raise NotExactError(f"{value} is too large to keep")
    return ticks.numerator


def about_ticks(ticks: int) -> int:
    """
    Return a quantity with three figures or all whole ones, rounded up: for lists that people read and pull from.

    >>> about_ticks(1_177_997), about_ticks(319_478), about_ticks(17_281), about_ticks(-17_281)
    (1180000, 320000, 17300, -17200)
    """
    step = about_step(ticks)
    return -(-ticks // step) * step


def about_step(ticks: int) -> int:
    """
    Return what a quantity is rounded to where people read three figures of it, or all whole ones.

    >>> about_step(1_177_997), about_step(319_478), about_step(17_281)
    (10000, 1000, 100)
    """
    size = abs(ticks)
    return SCALE if size >= 100 * SCALE else SCALE // 10 if size >= 10 * SCALE else SCALE // 100


@lru_cache(maxsize=1 << 16)
def from_ticks(ticks: int) -> Decimal:
    """
    Return whole ten-thousandths as a Decimal with its trailing zeros dropped.

    >>> from_ticks(15875), from_ticks(30_480_000)
    (Decimal('1.5875'), Decimal('3048'))
    """
    whole, rest = divmod(abs(ticks), SCALE)
    digits = f"{whole}.{rest:04d}".rstrip("0").rstrip(".")
    return Decimal(f"-{digits}" if ticks < 0 else digits)
