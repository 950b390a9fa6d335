"""
Why something is to be ordered, in words: what its shortage is made of, and how the quantity came about.

Reads no database. Quantities are whole ticks of the item's unit (`takeoff/units/exact.py`).
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

from kits.shortages.reckon.lines import CAUSES, ShortLine
from kits.shortages.told.words import (
    SPARE_ONLY,
    advice_in_words,
    causes_largest_first,
    drafts_in_words,
    enough_in_words,
    overdue_in_words,
)
from takeoff.units.shown import number


def cause_split(line: ShortLine) -> tuple[tuple[str, int], ...]:
    """Return what the gap of `line` is made of, the largest first; the parts add up to the gap, zeros left out."""
    return tuple((words, ticks) for _, words, ticks in causes_largest_first(line, CAUSES))


def causes_in_words(line: ShortLine) -> str:
    """Return the cause split, one cause on each line."""
    return "\n".join(f"{number(ticks)} {words}" for words, ticks in cause_split(line))


def arithmetic_in_words(line: ShortLine, *, level: Fraction, as_of: date) -> str:
    """
    Return how the quantity to order came about, to be followed with a pencil.

    level : the service level of the site, as a fraction. as_of : an earlier order-by date is overdue.
    """
    item = line.item
    sentences = [advice] if (advice := advice_in_words(line)) else []
    sentences.append(
        f"Open stages need {number(line.need)} by the drawings; {number(line.usable)} usable here and "
        f"{number(line.inbound)} inbound: gap {number(line.need)} − {number(line.usable)} − {number(line.inbound)} "
        f"= {number(line.gap)}."
    )
    if line.use and line.usage:
        rate = Decimal(round(line.usage.rate * 100)) / 100
        stages = len(line.usage.evidence)
        finished = f"with {stages} finished stage{'s' * (stages != 1)}" if stages else "before any stage is finished"
        sentences.append(
            f"Use is taken as {rate:.2f} of plan, {finished}: "
            f"{number(abs(line.use))} {'more' if line.use > 0 else 'less'}."
        )
    if line.reserve:
        sentences.append(f"{number(line.reserve)} spare: {enough_in_words(level)}.")
    if line.timing:
        sentences.append(f"Deliveries after the need, or lots that expire before it, add {number(line.timing)}.")
    if line.other_runs:
        sentences.append(f"{number(line.other_runs)} of what is here or coming is made for other runs.")
    packs = f"packs of {number(item.pack)}" if item.in_packs else "whole pieces"
    least = f", least order {number(item.min_order)}" if item.min_order else ""
    on_the_way = f", {number(line.expedite)} of it on the way, too late" if line.expedite else ""
    sentences.append(f"Short {number(line.short)}{on_the_way}; in {packs}{least}: order {number(line.order)}.")
    if line.walks:
        wanted = (f"{number(ticks)} for {run}{size and f', {size}'}" for run, size, ticks, _ in line.orders)
        sentences.append(f"Made for the run: {'; '.join(wanted)}.")
    if line.spare_only:
        sentences.append(f"{SPARE_ONLY.capitalize()}.")
    sentences += [told for told in (overdue_in_words(line, as_of), drafts_in_words(line)) if told]
    return " ".join(sentences)
