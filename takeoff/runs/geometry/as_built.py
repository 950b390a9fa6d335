"""
What a length as built can be, held against the drawing. Pure: no Django.

Lengths are ticks (1/10 000 mm). Where nothing is drawn, `drawn` is 0 and there is nothing to hold it against.
"""

from __future__ import annotations

from takeoff.units.shown import near

# Bounds of our own against slips of the hand; no standard gives one.
LONGEST = 100_000_000_000  # 10 km: further than any cable bus is built (common practice: tens to hundreds of metres)
MOST_TIMES_DRAWN = 10
FAR_OFF = 10  # per cent; what a tape finds beyond it is more often a slip than the site


def most(measured: int, drawn: int, *, unit: str) -> str:
    r"""
    Return the limit that a measured length breaks, in words; "" when it can be true.

    unit : the site's, for the words.

    >>> most(3_048_000, 3_048_000, unit="ft"), most(33_528_000, 3_048_000, unit="ft"), most(LONGEST + 1, 0, unit="m")
    ('', 'at most 10 times the drawn 1\' 0"', 'at most 10 km')
    """
    if measured > LONGEST:
        return "at most 10 km"
    if drawn and measured > MOST_TIMES_DRAWN * drawn:
        return f"at most {MOST_TIMES_DRAWN} times the drawn {near(drawn, unit)}"
    return ""


def far_off(measured: int, drawn: int) -> bool:
    """
    Return whether a measured length is more than 10 % longer or shorter than drawn, so that someone looks again.

    >>> far_off(110, 100), far_off(111, 100), far_off(89, 100), far_off(5, 0)
    (False, True, True, False)
    """
    return bool(drawn) and abs(measured - drawn) * 100 > FAR_OFF * drawn
