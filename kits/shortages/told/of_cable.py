"""Buying cable, in words: which reels, for whom, and how the number came about. Lengths are ticks of a millimetre."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from kits.shortages.reckon.lines import CableLine, ReelsOnOrder
from takeoff.units.shown import day_month_year, near


def reels_in_words(reels: Iterable[tuple[int, int]], unit: str) -> str:
    r"""
    Return (length, count) in words. unit : the site's, ft or m.

    >>> reels_in_words([(3_048_000_000, 2), (1_524_000_000, 1)], "ft")
    '2 × 1\u202f000\' 0" and 1 × 500\' 0"'
    """
    return _joined([f"{count} × {near(length, unit)}" for length, count in reels])


def on_order_in_words(reels: Iterable[ReelsOnOrder], unit: str) -> str:
    """Return reels on order, each with its order and its day."""
    return _joined(
        [
            f"{reels_in_words([(one.length, one.count)], unit)} on {one.order}, "
            f"{f'expected {day_month_year(one.on)}' if one.on else 'no day given'}"
            for one in reels
        ]
    )


def by_day_in_words(cable: CableLine, as_of: date) -> str:
    """Return by when to order it, or why there is no day."""
    if cable.order_by is None:
        unknown = cable.ware is None or cable.ware.lead is None
        return "lead time not known" if unknown else "no day planned"
    return f"{'overdue since' if cable.order_by < as_of else 'by'} {day_month_year(cable.order_by)}"


def why_in_words(cable: CableLine, unit: str) -> str:
    """Return how the number of reels to order came about, to be followed with a pencil."""
    for_whom = f" for {', '.join(cable.runs)}" if cable.runs else ""
    sentences = [
        f"No reel here or on the way gives all that is to be cut{for_whom}; "
        f"the cut plan buys {reels_in_words(cable.buy or (), unit)}, the least cable found of the lengths sold."
    ]
    if cable.on_order:
        sentences.append(f"On order: {on_order_in_words(cable.on_order, unit)}.")
    if cable.ware and cable.ware.least:
        sentences.append(f"Least order {near(cable.ware.least, unit)}.")
    sentences.append(f"Order {reels_in_words(cable.order or (), unit)}.")
    if cable.ware and cable.ware.lead is None:
        sentences.append("The lead time is not known: there is no day to order by.")
    return " ".join(sentences)


def _joined(parts: Sequence[str]) -> str:
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
