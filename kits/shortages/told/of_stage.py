"""
How far the material of a stage is, in words. Pure: no Django.

Of material only: whether work may begin is for those to say who give permits, and their words are not used here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from kits.shortages.reckon.arrivals import Lack, StageLine
from kits.shortages.reckon.lines import CABLE_UNIT, Delivery, StageReadiness
from kits.shortages.reckon.readiness import BLOCKED, BUT_FOR, NO_TAKEOFF, SEALS, TERMINATIONS
from kits.shortages.told.words import units_in_words
from takeoff.units.exact import SCALE
from takeoff.units.shown import day_month, number, up
from takeoff.units.unit_words import in_stock, needed

MATERIAL_ONLY = "Material only. Permit, isolation and proof of dead are the site's."
ALL_HERE, NOT_MEASURED = "all here", "not measured yet"
NO_TAKEOFF_YET = "No takeoff yet: nobody knows what it needs."
ONE = {"enclosure"}  # names of stages that are one thing; the others are several


def state_in_words(row: StageReadiness) -> str:
    """Return how far the material of a stage is, or what has to be done before it."""
    if row.done:
        return "done"
    if row.idle:
        return "nothing needed"
    if row.state == BLOCKED:
        return f"waits for {waits_for(row)}"
    if row.state == BUT_FOR:
        return f"here but for {_counted(row)}"
    return f"{ALL_HERE}, {NOT_MEASURED}" if row.unmeasured else ALL_HERE


def _counted(row: StageReadiness) -> str:
    lengths = sum(one.unit == CABLE_UNIT for one in row.missing)
    counts = ((lengths, "length"), (len(row.missing) - lengths, "item"))
    return " and ".join(f"{count} {what}{'s' * (count > 1)}" for count, what in counts if count)


def waits_for(row: StageReadiness) -> str:
    """Return what has to be there first, the takeoff or earlier stages."""
    return ", ".join("a takeoff" if name == NO_TAKEOFF else name for name in row.blocked_by)


def verb(stage: str, word: str) -> str:
    """
    Return a verb as it follows the name of a stage.

    >>> verb("enclosure", "lack"), verb("cables", "lack")
    ('lacks', 'lack')
    """
    return f"{word}s" if stage in ONE else word


def needs_a_permit(rows: Sequence[StageReadiness]) -> bool:
    """Return whether one of these open stages is worked on where something may be live."""
    return any(not row.done and row.stage in {SEALS, TERMINATIONS} for row in rows)


def next_of(stages: Sequence[StageLine]) -> StageLine | None:
    """Return the first of a run's stages that is still to be done, None where none is."""
    return next((line for line in stages if not line.row.done and not line.row.idle), None)


def verdict_in_words(stages: Sequence[StageLine], unit: str) -> tuple[str, ...]:
    """
    Return whether a run can be finished with what is here, in sentences: cable that no reel gives comes first.

    stages : of one run, in their order. unit : the site's.
    """
    still_open = [line for line in stages if not line.row.done and not line.row.idle]
    if not still_open:
        return ("Every stage is done.",)
    cable = tuple(cable_in_words([lack for line in still_open for lack in line.lacks if lack.is_cable], unit))
    if any(NO_TAKEOFF in line.row.blocked_by for line in still_open):
        return (*cable, NO_TAKEOFF_YET)
    told = []
    for here, group in groupby(still_open, key=lambda line: _standing(line)):
        lines = list(group)
        if here:
            told.append(f"{_joined([line.row.stage for line in lines]).capitalize()}: {here}.")
        else:
            told += [sentence for line in lines if (sentence := _lacking(line))]
    return (*cable, *told)


def _standing(line: StageLine) -> str:
    """Return that all of a stage is here, empty where something is not."""
    if line.lacks:
        return ""
    return f"{ALL_HERE}, {NOT_MEASURED}" if line.row.unmeasured else ALL_HERE


def _lacking(line: StageLine) -> str:
    items = [lack for lack in line.lacks if not lack.is_cable]
    if not items:
        return ""
    row = line.row
    on = f" on {day_month(row.planned)}" if row.planned else ""
    return f"{row.stage.capitalize()}{on} {verb(row.stage, 'lack')} {lacks_in_words(items)}."


def short_in_words(line: StageLine) -> str:
    """Return in a line how far the material of an open stage is."""
    items = [lack for lack in line.lacks if not lack.is_cable]
    lengths = len(line.lacks) - len(items)
    told = []
    if lengths:
        told.append(f"{lengths} length{'s find' if lengths > 1 else ' finds'} no reel here")
    if items:
        told.append(f"{verb(line.row.stage, 'lack')} {lacks_in_words(items)}")
    if NO_TAKEOFF in line.row.blocked_by:
        told.append("no takeoff yet")
    return "; ".join(told) or _standing(line)


def lacks_in_words(lacks: Sequence[Lack]) -> str:
    """Return in short what of items is missing, and when the last of it comes."""
    if len(lacks) == 1:
        (one,) = lacks
        return f"{one_in_words(one)}; {comes_in_words(one.comes, several=one.missing.quantity > SCALE)}"
    when = [lack.comes for lack in lacks]
    never = when.count(None)
    if never:
        told = "none of them is on the way" if never == len(lacks) else f"{never} of them not on the way"
    else:
        late = sum(one.late for one in when if one)
        days = [one.on for one in when if one and one.on]
        if late:
            told = f"{late} of them overdue"
        else:
            told = f"the last comes {day_month(max(days))}" if len(days) == len(when) else "some without a day"
    return f"{len(lacks)} items; {told}"


def one_in_words(lack: Lack) -> str:
    """Return a missing item: how many, what it is, and in which crew's box some lies."""
    missing = lack.missing
    what = units_in_words(needed(missing.quantity, missing.unit), missing.unit)
    boxes = ", ".join(f"{number(in_stock(there, missing.unit))} in {box}" for box, there in missing.in_boxes)
    return f"{what} {missing.description or missing.item}" + (f" ({boxes})" if boxes else "")


def comes_in_words(delivery: Delivery | None, *, several: bool = True) -> str:
    """Return when a delivery brings it."""
    it, comes = ("they", "come") if several else ("it", "comes")
    if delivery is None:
        return "not on the way"
    if delivery.on is None:
        return f"{it} {comes} without a day"
    if delivery.late:
        return f"{it} {'were' if several else 'was'} due {day_month(delivery.on)}"
    return f"{it} {comes} {day_month(delivery.on)}"


def cable_in_words(lacks: Sequence[Lack], unit: str) -> list[str]:
    """Return the sentences about lengths of cable that no reel here gives."""
    told = []
    lengths = sorted((lack.missing for lack in lacks), key=lambda one: one.waits_for)
    for reel, group in groupby(lengths, key=lambda one: one.waits_for):
        ones = list(group)
        longest = up(max(one.quantity for one in ones), unit)
        names = ", ".join(one.description for one in ones)
        many = len(ones) > 1
        if reel:
            told.append(
                f"{len(ones)} length{'s' * many} of cable wait{'s' * (not many)} for {reel}, on the way: {names}."
            )
        else:
            told.append(f"No reel gives {len(ones)} length{'s' * many} of cable, up to {longest}: {names}.")
    return told


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
