"""Units as words behind a number: one cartridge, 32 cartridges. Pure, and English, as the pages are."""

from __future__ import annotations

import re

from takeoff.units.exact import SCALE, about_ticks
from takeoff.units.lengths import SPELLINGS
from takeoff.units.measures import VOLUME_SPELLINGS, WEIGHT_SPELLINGS

# Words that a number does not change, abbreviations that look like words among them.
UNCHANGED = frozenset({"each", "feet", "gal", "doz", "dozen"})
ODD = {"foot": "feet"}
WORD = re.compile(r"(?=.*[aeiou])[a-z]{3,}")
HISSES = ("s", "x", "z", "ch", "sh")


MEASURES = SPELLINGS.keys() | VOLUME_SPELLINGS.keys() | WEIGHT_SPELLINGS.keys()


def comes_whole(unit: str) -> bool:
    """
    Return whether people take a thing whole from a shelf: pieces and packages, as no measure is.

    >>> [comes_whole(unit) for unit in ("each", "cartridge", "roll", "feet", "litre", "ft", "kg")]
    [True, True, True, False, False, False, False]
    """
    return unit == "each" or (WORD.fullmatch(unit) is not None and unit not in MEASURES)


def needed(ticks: int, unit: str) -> int:
    """
    Return what is needed of a unit as people read it, never less: whole where it comes whole, else three figures.

    >>> needed(17_281, "cartridge"), needed(17_281, "ft")
    (20000, 17300)
    """
    return -(-ticks // SCALE) * SCALE if comes_whole(unit) else about_ticks(ticks)


def in_stock(ticks: int, unit: str) -> int:
    """
    Return what is there of a unit as people read it, never more: whole where it comes whole, else as it is.

    >>> in_stock(17_281, "cartridge"), in_stock(17_281, "ft")
    (10000, 17281)
    """
    return ticks // SCALE * SCALE if comes_whole(unit) else ticks


def unit_for(unit: str, ticks: int) -> str:
    """
    Return a unit as it stands behind a quantity. [ticks]

    Only a plain lower-case word takes a plural; symbols (ft, kg, lbs) and words that are one already stay.

    >>> unit_for("cartridge", 320_000), unit_for("cartridge", 10_000), unit_for("box", 15_000), unit_for("ft", 20_000)
    ('cartridges', 'cartridge', 'boxes', 'ft')
    """
    if abs(ticks) == SCALE or unit in UNCHANGED or not WORD.fullmatch(unit):
        return unit
    if unit in ODD:
        return ODD[unit]
    if unit.endswith("s") and not unit.endswith("ss"):
        return unit
    if unit.endswith(HISSES):
        return f"{unit}es"
    if unit.endswith("y") and unit[-2] not in "aeiou":
        return f"{unit[:-1]}ies"
    return f"{unit}s"
