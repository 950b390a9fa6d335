"""A line in words: its figures, parts and late deliveries, the same on pages, in text and in workbooks. Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from fractions import Fraction

from kits.shortages.reckon.causes import CAUSE_WORDS, CAUSE_WORDS_BELOW, FREE, NO_KIT, USUAL, USUAL_BELOW
from kits.shortages.reckon.lines import PARTS, ShortLine, TooLate
from takeoff.units.shown import day_month_year, number
from takeoff.units.unit_words import unit_for

# What a line asks for, in the order in which lines are told.
ORDER_NOW, EXPEDITE, SPARE, LATER, COVERED = ACTS = ("order now", "expedite", "spare only", "later", "covered")
SPARE_ONLY = "spare only: what is expected is covered, so it goes along with the next order"


def part_in_words(name: str, ticks: int, level: Fraction | None = None) -> str:
    """
    Return what a part of what is short says, by its name in PARTS; a negative one makes it smaller.

    level : the service level that the spare is for.

    >>> part_in_words("lost", -10_000), part_in_words("reserve", 10_000, Fraction(95, 100))
    ('found at store counts', 'spare (enough 19 times in 20)')
    """
    if name == "reserve" and level is not None:
        return f"{CAUSE_WORDS[name]} ({enough_in_words(level)})"
    return CAUSE_WORDS_BELOW.get(name, CAUSE_WORDS[name]) if ticks < 0 else CAUSE_WORDS[name]


def enough_in_words(level: Fraction) -> str:
    """
    Return how often what is covered at a service level is enough.

    >>> enough_in_words(Fraction(95, 100)), enough_in_words(Fraction(1, 2))
    ('enough 19 times in 20', 'enough 1 time in 2')
    """
    times = "time" if level.numerator == 1 else "times"
    return f"enough {level.numerator} {times} in {level.denominator}"


def cause_in_words(line: ShortLine, name: str, ticks: int) -> str:
    """Return what a part says of a line; where no kit is promised, or no stage is finished, nobody is blamed."""
    if name == "kit_list" and not line.promised and ticks > 0:
        return NO_KIT
    if name == "use" and not (line.usage and line.usage.evidence):
        return USUAL if ticks > 0 else USUAL_BELOW
    return part_in_words(name, ticks, line.level)


def causes_largest_first(line: ShortLine, names: Collection[str] = PARTS) -> tuple[tuple[str, str, int], ...]:
    """
    Return name, words and ticks of what a line's shortage is made of, the largest first, what is nothing left out.

    What was ordered since is told in two, so that a free replacement stands apart from what is to be paid.
    """
    parts = {
        **line.causes,
        "use": line.use,
        "reserve": line.reserve,
        "timing": line.timing,
        "other_runs": line.other_runs,
    }
    found = [(name, cause_in_words(line, name, parts[name]), parts[name]) for name in names if name != "ordered_since"]
    if "ordered_since" in names:
        # A line that is rounded may have rounded the whole and its part another way.
        free = min(0, max(parts["ordered_since"], -line.free))
        ordered = "ordered_since"
        found += [(ordered, CAUSE_WORDS[ordered], parts[ordered] - free), (ordered, FREE, free)]
    return tuple(sorted((one for one in found if one[2]), key=lambda one: -one[2]))


def owed_in_words(line: ShortLine) -> str:
    """Return what was promised and never shipped, where an order placed since stands before it; else nothing."""
    owed = line.causes["not_shipped"]
    if owed <= 0 or not line.causes["ordered_since"]:
        return ""
    return f"{units_in_words(owed, line.item.unit)} {CAUSE_WORDS['not_shipped']}, whatever was ordered since"


def main_cause_in_words(line: ShortLine) -> str:
    """Return what adds most to what is short, or that all of it is on the way or spare; empty when nothing does."""
    if line.too_late and not line.order:
        owed = f"; {told}" if (told := owed_in_words(line)) else ""
        return f"all of it is on the way: {late_in_words(line.too_late)}{owed}"
    if line.spare_only:
        return SPARE_ONLY
    return cause_in_words(line, line.main_cause, 1) if line.main_cause else ""


def late_in_words(late: Sequence[TooLate]) -> str:
    """
    Return which deliveries come how many days too late.

    >>> late_in_words([TooLate("shipment", "SH-2231", 50_000, date(2026, 12, 15), date(2026, 12, 10), 5)])
    'SH-2231 comes 5 days after 10 Dec 2026'
    """
    return "; ".join(_late(one) for one in late)


def _late(one: TooLate) -> str:
    if one.days is not None:
        return f"{one.name} comes {one.days} day{'s' * (one.days != 1)} after {day_month_year(one.since)}"
    if one.no_answer:
        return f"{one.name}: {no_answer_in_words(one.sent)}, and it is missing from {day_month_year(one.since)}"
    return f"{one.name} has no day, and it is missing from {day_month_year(one.since)}"


def no_answer_in_words(sent: date | None) -> str:
    """Return that a supplier has said no day, and since when he was asked."""
    return f"no answer since {day_month_year(sent)}" if sent else "no answer, sent on a day not known"


def advice_in_words(line: ShortLine) -> str:
    """Return what to do about what comes too late, before any quantity to order is named; empty where nothing does."""
    if not line.too_late:
        return ""
    late = late_in_words(line.too_late)
    it = "it" if len(line.too_late) == 1 else "them"
    if line.order:
        what = units_in_words(line.expedite, line.item.unit)
        return f"{what} of it on the way, only too late: {late}. Expedite {it}, or move the work; order only the rest."
    return (
        f"All of it is on the way, only too late: {late}. Expedite {it}, or move the work; "
        "ordering again makes it too many."
    )


def units_in_words(ticks: int, unit: str) -> str:
    """
    Return a quantity with its unit.

    >>> units_in_words(40_000, "roll"), units_in_words(40_000, "each")
    ('4 rolls', '4')
    """
    return number(ticks) if unit == "each" else f"{number(ticks)} {unit_for(unit, ticks)}"


def act_in_words(line: ShortLine, as_of: date) -> str:
    """Return in a word or two what a line asks for: its place on the list of shortages."""
    if line.spare_only:
        return SPARE
    if line.order:
        later = line.order_by > as_of if line.order_by else line.out_on is None
        return LATER if later else ORDER_NOW
    return EXPEDITE if line.expedite else COVERED


def overdue_in_words(line: ShortLine, as_of: date) -> str:
    """Return that the day to order has passed and how late it comes if ordered today; or why there is no such day."""
    if line.out_on and line.item.lead is None and line.order:
        return f"Lead time not known, so there is no day to order by; missing from {day_month_year(line.out_on)}."
    if line.order_by is None or line.order_by >= as_of or line.comes_on is None or line.out_on is None:
        return ""
    days = (line.comes_on - line.out_on).days
    how = f"{days} day{'s' * (days != 1)} after it is missing" if days > 0 else "in time, without the buffer"
    by, comes = day_month_year(line.order_by), day_month_year(line.comes_on)
    return f"It was to be ordered by {by}. Ordered today it comes {comes}, {how}."


def drafts_in_words(line: ShortLine) -> str:
    """Return what drafts ask for; empty without one."""
    told = ", ".join(f"{name} {number(ticks)}" for name, ticks in line.drafts)
    return f"In drafts, not sent and not counted: {told}." if told else ""
