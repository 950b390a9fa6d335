"""Units as words behind a number: one cartridge, 32 cartridges. Pure, and English, as the pages are."""

from __future__ import annotations

import re

from takeoff.units.exact import SCALE

# Words that a number does not change, abbreviations that look like words among them.
UNCHANGED = frozenset({"each", "feet", "gal", "doz", "dozen"})
ODD = {"foot": "feet"}
WORD = re.compile(r"(?=.*[aeiou])[a-z]{3,}")
HISSES = ("s", "x", "z", "ch", "sh")


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
