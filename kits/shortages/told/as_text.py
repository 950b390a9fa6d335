"""A reconciliation as a terminal shows it: people get what they can read, needs rounded up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby
from math import ceil, floor
from textwrap import shorten, wrap

from kits.shortages.reckon.causes import answers_for
from kits.shortages.reckon.lines import CABLE_UNIT, CableLine, Missing, Reconciliation, ShortLine, StageReadiness
from kits.shortages.reckon.readiness import BLOCKED, BUT_FOR, DONE
from kits.shortages.told.of_cable import by_day_in_words, on_order_in_words, reels_in_words
from kits.shortages.told.of_stage import MATERIAL_ONLY, needs_a_permit, state_in_words, verb, waits_for
from kits.shortages.told.rounded import rounded_line
from kits.shortages.told.words import SPARE_ONLY, advice_in_words, cause_in_words, owed_in_words
from takeoff.units.shown import number, rough
from takeoff.units.unit_words import needed, unit_for

LEAST_WIDTH = 40  # below it a table is no table
LEAST_REASON = 64  # characters; a reason that is cut shorter says nothing
MOST_NAMED = 6  # in one sentence
NUMBERS = {3, 4, 5}  # columns of figures


def as_text(reconciliation: Reconciliation, *, name: str, unit: str, width: int, brief: bool = False) -> Iterable[str]:
    """
    Return the lines of a terminal: runs that are not done, cables, and last what is short by the day to order it.

    name, unit : of the site. width : of the terminal [characters]. brief : one short line for each run.
    """
    width = max(width, LEAST_WIDTH)
    runs = list(_next_text(reconciliation, width) if brief else _runs_text(reconciliation, unit, width))
    if runs:
        yield from runs
        if needs_a_permit(reconciliation.readiness):
            yield from _wrapped(MATERIAL_ONLY, width)
        yield ""
    cables = [cable for cable in reconciliation.cables if cable.need]
    if cables:
        yield from (told for cable in cables for told in _cable_text(cable, reconciliation, unit, width))
        yield ""
    short = reconciliation.short_lines
    day, count = reconciliation.as_of.isoformat(), len(reconciliation.lines)
    yield from _wrapped(f"{name}, as of {day}: {len(short)} of {count} items short.", width)
    if short:
        yield ""
        yield from _table([_row(rounded_line(line), reconciliation) for line in short], width)


def why_short(line: ShortLine) -> str:
    """Return the largest part of what is short with who answers for it, and how many others; or what is late."""
    if line.too_late and not line.order:
        owed = f" {told}." if (told := owed_in_words(line)) else ""
        return f"{advice_in_words(line)}{owed}"
    if line.spare_only:
        return SPARE_ONLY
    cause = line.main_cause
    if not cause:
        return ""
    parts = line.parts
    others = sum(1 for key, value in parts.items() if value > 0 and key != cause)
    more = f", and {others} more" if others else ""
    told = f"{number(parts[cause])} {cause_in_words(line, cause, parts[cause])}{more}"
    return f"{who}: {told}" if (who := answers_for(line, cause)) else told


def _row(line: ShortLine, reconciliation: Reconciliation) -> tuple[str, ...]:
    overdue = " !" if line.order_by and line.order_by < reconciliation.as_of else ""
    return (
        _order_by(line) + overdue,
        line.short_on.isoformat() if line.short_on else "",
        line.item.code,
        number(line.short),
        number(line.order),
        number(line.expedite),
        unit_for(line.item.unit, line.short),
        why_short(line),
    )


def _order_by(line: ShortLine) -> str:
    if line.order_by:
        return line.order_by.isoformat()
    if not line.order:
        return "-"
    if line.spare_only:
        return "spare only"
    return "undated" if line.out_on is None else "lead time?"


def _table(rows: Sequence[tuple[str, ...]], width: int) -> Iterable[str]:
    """
    Return a table in `width` characters.

    Where the reasons do not fit beside the figures they go below them; where the figures do not fit either, each item
    gets a few short lines.
    """
    heads = ("order by", "short on", "item", "short", "order", "expedite", "unit", "why it is short")
    sizes = [max(len(cell) for cell in column) for column in zip(heads, *rows, strict=True)]
    figures = sum(sizes[:-1]) + 2 * (len(sizes) - 2)
    if figures > width:
        for by, on, code, short, order, expedite, unit, why in rows:
            yield from _wrapped(
                f"{code}: {short} {unit} short{' on ' + on if on else ''}, order {order} by {by}, expedite {expedite}",
                width,
            )
            yield from _wrapped(f"    {why}", width)
    else:
        left = width - figures - 2
        beside = left >= min(sizes[-1], LEAST_REASON)
        for row in (heads, *rows):
            cells = [
                cell.rjust(size) if place in NUMBERS else cell.ljust(size)
                for place, (cell, size) in enumerate(zip(row[:-1], sizes, strict=False))
            ]
            reason = f"  {shorten(row[-1], left, placeholder='…')}" if beside else ""
            yield f"{'  '.join(cells)}{reason}".rstrip()
            if not beside and row is not heads:
                yield from _wrapped(f"    {row[-1]}", width)
    if any(row[0].endswith("!") for row in rows):
        yield "! the day to order has passed"


def _cable_text(cable: CableLine, reconciliation: Reconciliation, unit: str, width: int) -> Iterable[str]:
    def told(ticks: int) -> str:
        return about_length(ticks, unit)

    figures = f"{told(cable.open)} to be cut of {told(cable.need)}, {about_length(cable.on_reels, unit, up=False)} here"
    yield from _wrapped(f"{cable.cable}: {figures}", width)
    for reel, lengths in groupby(sorted(cable.unmet, key=lambda one: one.waits_for), key=lambda one: one.waits_for):
        names = [f"{u.run} {u.conductor} {told(u.length)}" for u in lengths]
        one = len(names) == 1
        if reel:
            found = f"{len(names)} length{' waits' if one else 's wait'} for {reel}, on the way"
        else:
            found = f"{len(names)} length{' finds' if one else 's find'} no reel"
        yield from _wrapped(f"    {found} ({cable.method}): {_first_few(names)}", width)
    if not cable.unmet:
        yield from _wrapped(f"    every length finds a reel ({cable.method})", width)
    if cable.order:
        order = f"order {reels_in_words(cable.order, unit)} for {', '.join(cable.runs)}"
        yield from _wrapped(f"    {order}, {by_day_in_words(cable, reconciliation.as_of)}", width)
    if cable.on_order:
        yield from _wrapped(f"    on order: {on_order_in_words(cable.on_order, unit)}", width)


def _runs_text(reconciliation: Reconciliation, unit: str, width: int) -> Iterable[str]:
    for run, group in groupby(reconciliation.readiness, key=lambda row: row.run):
        telling = [
            row
            for row in group
            if row.state != DONE or (row.not_before and row.not_before.date() >= reconciliation.as_of)
        ]
        if telling:
            yield from _wrapped(f"{run}: " + "; ".join(stage_text(row, unit) for row in telling), width)


def _next_text(reconciliation: Reconciliation, width: int) -> Iterable[str]:
    """Return a short line for each run that is not done: its first open stage."""
    for run, group in groupby(reconciliation.readiness, key=lambda row: row.run):
        row = next((row for row in group if row.state != DONE), None)
        if row is not None:
            yield shorten(f"{run}: {row.stage} {state_in_words(row)}", width, placeholder="…")


def stage_text(row: StageReadiness, unit: str) -> str:
    """Return how far the material of a stage is, in words; `unit` is the site's."""
    if row.state == DONE:
        dry = f", not to be energized before {row.not_before:%Y-%m-%d %H:%M}" if row.not_before else ""
        return f"{row.stage} done{dry}"
    lacking = _first_few(_missing(row.missing, unit))
    if row.state == BUT_FOR:
        return f"{row.stage} here but for {lacking}"
    lacks = f" ({verb(row.stage, 'lack')} {lacking})" if lacking else ""
    if row.state == BLOCKED:
        return f"{row.stage} {verb(row.stage, 'wait')} for {waits_for(row)}{lacks}"
    return f"{row.stage} {state_in_words(row)}{lacks}"


def _missing(missing: Iterable[Missing], unit: str) -> list[str]:
    """Return what is missing in words, equal lengths of a cable together."""
    told: Counter[str] = Counter()
    for one in missing:
        told[
            f"{about_length(one.quantity, unit)} of {one.item}{_waits(one)}"
            if one.unit == CABLE_UNIT
            else f"{number(needed(one.quantity, one.unit))} {one.item}"
        ] += 1
    return [words if count == 1 else f"{count} × {words}" for words, count in told.items()]


def _waits(missing: Missing) -> str:
    return f" (waits for {missing.waits_for}, on the way)" if missing.waits_for else ""


def about_length(ticks: int, unit: str, *, up: bool = True) -> str:
    """Return a length to 0.1 ft or 0.01 m, rounded up as what is needed is, or down as what is there."""
    return rough(ticks, unit, ceil if up else floor)


def _first_few(words: Sequence[str]) -> str:
    more = f" and {len(words) - MOST_NAMED} more" if len(words) > MOST_NAMED else ""
    return ", ".join(words[:MOST_NAMED]) + more


def _wrapped(text: str, width: int) -> list[str]:
    indent = len(text) - len(text.lstrip()) + 4
    return wrap(text, width, subsequent_indent=" " * indent, break_on_hyphens=False)
