"""
A line as people read it: three figures or all whole ones, pieces whole, and every sum that is shown still adds up.

Machines get the exact line (`reconcile --json`); pages, text and workbooks get this one. Pure: no Django.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from kits.shortages.reckon.lines import BalanceStep, Evidence, LearnedUsage, ShortLine, StageNeed
from takeoff.units.exact import SCALE, about_step
from takeoff.units.unit_words import comes_whole

TENTH = SCALE // 10


def share_out(parts: Sequence[int], total: int, step: int) -> tuple[int, ...]:
    """
    Return `parts` in whole steps that add up to `total`: by largest remainder, each less than a step from what it is.

    total : what they add up to, down or up to a whole step. All are ticks; a part may be negative.
    Raises ValueError for any other total.
    """
    exact = sum(parts)
    if total not in {exact // step * step, -(-exact // step) * step}:
        raise ValueError(f"{total} is not {exact} rounded to {step}")
    down = [part // step * step for part in parts]
    raised = (total - sum(down)) // step
    largest = sorted(range(len(parts)), key=lambda place: down[place] - parts[place])
    for place in largest[:raised]:
        down[place] += step
    return tuple(down)


def step_of(line: ShortLine) -> int:
    """Return what a line's figures are rounded to: pieces and packages are whole, the rest as short asks. [ticks]"""
    if comes_whole(line.item.unit) and line.item.pack % SCALE == 0:
        return SCALE
    return about_step(line.short or max(line.need_covered, line.usable, line.inbound))


def rounded_line(line: ShortLine) -> ShortLine:
    """
    Return a line whose shown figures add up as those of `line` do, in whole steps, what is short rounded up.

    What is shared out is shared from the top: what is short into gap, use, reserve and dates; the gap into its causes,
    and into need, usable and inbound; those into stages and deliveries. What to order is in packs, and stays.
    """
    step = step_of(line)
    if line.walks or not any(ticks % step for ticks in _shown(line)):
        return line  # whole already, as most items are, and all that are made for runs
    rest = line.uncovered
    short = _up(line.short, step)
    tops = (line.gap, line.use, line.reserve)
    if rest > 0:
        gap, use, reserve, timing = share_out((*tops, line.timing), short, step)
    else:
        (gap, use, reserve), timing = share_out(tops, _up(rest, step), step), short
    need, usable, inbound = share_out((line.need, -line.usable, -line.inbound), gap, step)
    usable, inbound = -usable, -inbound
    causes = share_out(tuple(line.causes.values()), gap, step)
    coming = share_out([one.quantity for one in line.deliveries], inbound, step)
    return replace(
        line,
        usable=usable,
        inbound=inbound,
        need=need,
        need_expected=need + use,
        need_covered=need + use + reserve,
        short=short,
        learned=use + reserve,
        timing=timing,
        causes=dict(zip(line.causes, causes, strict=True)),
        needs=_needs(line, need, step),
        deliveries=tuple(replace(one, quantity=q) for one, q in zip(line.deliveries, coming, strict=True)),
        steps=_steps(line, step),
        expedite=_up(line.expedite, step),
        drafts=tuple((name, _near(ticks, step)) for name, ticks in line.drafts),
        free=_near(line.free, step),
        too_late=tuple(replace(one, quantity=_up(one.quantity, step)) for one in line.too_late),
        usage=line.usage and _usage(line.usage, min(step, TENTH)),  # of use, parts of a package say something
        substitutes=tuple(replace(one, equals=one.equals // step * step) for one in line.substitutes),
    )


def _shown(line: ShortLine) -> Iterator[int]:
    """Yield the figures that people see."""
    yield from (line.need, line.need_expected, line.need_covered, line.usable, line.inbound, line.short, line.timing)
    yield from line.causes.values()
    for need in line.needs:
        yield from (need.takeoff, need.drawn, need.issued, need.need, need.expected)
    for delivery in line.deliveries:
        yield delivery.quantity
    for day in line.steps:
        yield from (day.delivered, day.needed, day.expired, day.balance)
    for stage in (*line.usage.evidence, *line.usage.unplanned, *line.usage.handed_out) if line.usage else ():
        yield from (stage.planned, stage.used)
    for substitute in line.substitutes:
        yield substitute.equals


def _up(ticks: int, step: int) -> int:
    return -(-ticks // step) * step


def _near(ticks: int, step: int) -> int:
    return (2 * ticks + step) // (2 * step) * step


def _usage(usage: LearnedUsage, step: int) -> LearnedUsage:
    def shown(rows: tuple[Evidence, ...]) -> tuple[Evidence, ...]:
        return tuple(replace(one, planned=_near(one.planned, step), used=_near(one.used, step)) for one in rows)

    return replace(
        usage, evidence=shown(usage.evidence), unplanned=shown(usage.unplanned), handed_out=shown(usage.handed_out)
    )


def _needs(line: ShortLine, need: int, step: int) -> tuple[StageNeed, ...]:
    """Return the stages, their needs adding up to `need`, and each need to its takeoff less what was handed out."""
    found = []
    for one, still in zip(line.needs, share_out([n.need for n in line.needs], need, step), strict=True):
        takeoff, issued = _near(one.takeoff, step), _near(one.issued, step)
        if one.need and one.need == one.takeoff - one.issued:
            takeoff, issued = share_out((one.takeoff, -one.issued), still, step)
            issued = -issued
        found.append(
            replace(
                one,
                takeoff=takeoff,
                drawn=takeoff if one.drawn == one.takeoff else _near(one.drawn, step),
                issued=issued,
                need=still,
                expected=still if one.expected == one.need else _up(one.expected, step),
            )
        )
    return tuple(found)


def _steps(line: ShortLine, step: int) -> tuple[BalanceStep, ...]:
    """Return the days, each balance rounded down, and what a day brings and takes adding up to its change."""
    exact = (line.usable, *(one.balance for one in line.steps))
    found = []
    for one, (before, after) in zip(line.steps, pairwise(ticks // step * step for ticks in exact), strict=True):
        comes, goes, spoils = share_out((one.delivered, -one.needed, -one.expired), after - before, step)
        found.append(BalanceStep(one.day, comes, -goes, -spoils, after))
    return tuple(found)
