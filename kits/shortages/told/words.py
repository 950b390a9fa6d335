"""A line in words: its figures, parts and late deliveries, the same on pages, in text and in workbooks. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from kits.shortages.reckon.causes import CAUSE_WORDS, CAUSE_WORDS_BELOW
from kits.shortages.reckon.lines import ShortLine, TooLate
from takeoff.units.shown import day_month_year, percent


def part_in_words(name: str, ticks: int, level: Fraction | None = None) -> str:
    """
    Return what a part of what is short says, by its name in PARTS; a negative one makes it smaller.

    level : the service level that the reserve is for.

    >>> part_in_words("lost", -10_000), part_in_words("reserve", 10_000, Fraction(95, 100))
    ('found at store counts', 'kept in reserve so that 95 % of cases are covered')
    """
    if name == "reserve" and level is not None:
        return f"{CAUSE_WORDS[name]} so that {percent(level)} of cases are covered"
    return CAUSE_WORDS_BELOW.get(name, CAUSE_WORDS[name]) if ticks < 0 else CAUSE_WORDS[name]


def main_cause_in_words(line: ShortLine) -> str:
    """Return what adds most to what is short, or that all of it is on the way; empty when nothing does."""
    if line.too_late:
        return f"all of it is on the way: {late_in_words(line.too_late)}"
    return part_in_words(line.main_cause, 1, line.level) if line.main_cause else ""


def late_in_words(late: Sequence[TooLate]) -> str:
    """
    Return which deliveries come how many days too late.

    >>> late_in_words([TooLate("shipment", "SH-2231", date(2026, 12, 15), date(2026, 12, 10), 5)])
    'SH-2231 comes 5 days after 10 Dec 2026'
    """
    return "; ".join(
        f"{one.name} comes {one.days} day{'s' * (one.days != 1)} after {day_month_year(one.since)}"
        if one.days is not None
        else f"{one.name} has no day, and it is missing from {day_month_year(one.since)}"
        for one in late
    )


def advice_in_words(late: Sequence[TooLate]) -> str:
    """Return what to do where all that is short is on the way, before any quantity to order is named."""
    it = "it" if len(late) == 1 else "them"
    return (
        f"All of it is on the way, only too late: {late_in_words(late)}. Hurry {it}, or move the work; "
        "ordering again makes it too many."
    )
