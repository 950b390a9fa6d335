"""
A plan's levels, its bounds and what sets two plans apart, in plain words. Pure.

Levels and bounds come as they are stored, by the names of `plan_cuts --json`, lengths in feet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from takeoff.units.lengths import FOOT
from takeoff.units.shown import decimal, rough

PART_OF_BEST = "best together with the others"
TAILS_ASIDE = ", the tails at the core aside"


@dataclass(frozen=True, slots=True)
class LevelWords:
    """One thing that a plan is judged by: its name, how much of it, what is known about better, and whether proven."""

    key: str
    name: str
    amount: str
    known: str
    proven: bool


@dataclass(frozen=True, slots=True)
class _Words:
    key: str
    name: str
    is_length: bool
    least: str  # no plan can …
    best: str  # proven: no plan …
    verb: str
    more: str
    fewer: str
    none: str
    noun: tuple[str, str] = ("", "")


_LEVELS = (
    _Words(
        "unmetFeet",
        "Cannot be cut",
        True,
        "leave less than {} uncut",
        "leaves less",
        "leaves",
        "more uncut",
        "less uncut",
        "everything can be cut",
    ),
    _Words(
        "scrapFeet",
        "Scrap",
        True,
        "scrap less than {}",
        "scraps less",
        "scraps",
        "more",
        "less",
        "nothing is scrapped",
    ),
    _Words(
        "wholeReelsOpened",
        "Whole reels opened",
        False,
        "open fewer than {}",
        "opens fewer",
        "opens",
        "more",
        "fewer",
        "every whole reel stays whole",
        ("whole reel", "whole reels"),
    ),
    _Words(
        "remnants",
        "Remnants made",
        False,
        "make fewer than {}",
        "makes fewer",
        "makes",
        "more",
        "fewer",
        "no end is left to keep",
        ("remnant", "remnants"),
    ),
    _Words(
        "setups",
        "Set-ups",
        False,
        "need fewer than {}",
        "needs fewer",
        "needs",
        "more",
        "fewer",
        "nothing is to be set up",
        ("set-up", "set-ups"),
    ),
)


def levels(
    plan: Mapping[str, Any], *, unit: str, best: bool = False, ends: Mapping[str, float] | None = None
) -> tuple[LevelWords, ...]:
    """
    Return a plan's levels in words, most important first.

    plan : levels, bounds, proven by their names. Bounds hold for plans that cut as much, in the strict order also for
    those that are as good at every level above. best : whether nothing better exists as a whole. ends : levels that
    count the tails, told in place of the plan's own; what is known is then of the cable beyond the tails.
    """
    found = []
    for words in _LEVELS:
        amount = plan["levels"].get(words.key)
        if amount is None:
            continue
        bound = plan["bounds"].get(words.key)
        proven = bool(plan["proven"].get(words.key)) or (bound is not None and bound >= amount)
        known = PART_OF_BEST if best and amount and not proven else _known(words, amount, bound, proven, unit)
        told = amount if ends is None else ends.get(words.key, amount)
        if round(told, 1) != round(amount, 1):
            known += TAILS_ASIDE
        found.append(
            LevelWords(
                key=words.key,
                name=words.name,
                amount=_amount(words, told, unit),
                known=known,
                proven=proven,
            )
        )
    return tuple(found)


def difference(one: Mapping[str, Any], other: Mapping[str, Any], *, unit: str) -> str:
    """
    Return what `other` does that `one` does not, for the better first; "" when they do the same at every level.

    >>> difference({"scrapFeet": 8.0, "wholeReelsOpened": 1}, {"scrapFeet": 2.0, "wholeReelsOpened": 4}, unit="ft")
    'scraps 6 ft less, but opens 3 more whole reels'
    """
    better: list[str] = []
    worse: list[str] = []
    for words in _LEVELS:
        if words.key not in one or words.key not in other:
            continue
        change = round(other[words.key] - one[words.key], 4)
        if change:
            size = abs(change)
            way = words.more if change > 0 else words.fewer
            if words.is_length:
                told = f"{words.verb} {length(size, unit)} {way}"
            else:
                told = f"{words.verb} {decimal(Decimal(str(size)))} {way} {words.noun[size != 1]}"
            (worse if change > 0 else better).append(told)
    return ", but ".join(_joined(side) for side in (better, worse) if side)


def length(feet: float, unit: str) -> str:
    """Return a sum of lengths in the site's unit, to 0.1 ft or 0.01 m."""
    return rough(Fraction(feet) * FOOT, unit)


def _amount(words: _Words, value: float, unit: str) -> str:
    return length(value, unit) if words.is_length else decimal(Decimal(str(value)))


def _known(words: _Words, amount: float, bound: float | None, proven: bool, unit: str) -> str:
    if not amount:
        return words.none
    if proven:
        return f"proven: no plan {words.best}"
    if not bound:
        return "nothing is proven"
    return f"no plan can {words.least.format(_amount(words, bound, unit))}"


def _joined(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
