"""What of a line of an order is still to come, and when: what was confirmed less what was shipped. Pure; ticks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Coming:
    """A part of a line that is still to come. on : its day, None where nobody said. confirmed : whether it was."""

    quantity: int
    on: date | None
    confirmed: bool


def ordered_now(quantity: int, confirmed: Iterable[int]) -> int:
    """
    Return what counts as ordered of a line: what was asked for, or more where more was confirmed.

    >>> ordered_now(100, [60, 60]), ordered_now(100, [40])
    (120, 100)
    """
    return max(quantity, sum(confirmed))


def still_coming(ordered: int, confirmed: Sequence[tuple[int, date | None]], shipped: int) -> tuple[Coming, ...]:
    """
    Return what is still to come of a line that is open, by day, what has none last.

    Together it is what was ordered less what was shipped, never below 0. ordered : as `ordered_now` says. confirmed :
    quantity and day of each delivery. What is shipped is of the earliest of them first, then of what was not confirmed.

    >>> still_coming(100, [(40, date(2026, 3, 9)), (30, date(2026, 3, 2))], shipped=50)
    (Coming(quantity=20, on=datetime.date(2026, 3, 9), confirmed=True), Coming(quantity=30, on=None, confirmed=False))
    """
    parts = sorted(confirmed, key=lambda part: (part[1] is None, part[1] or date.max))
    found, left = [], ordered
    for ticks, on, said in (*((*part, True) for part in parts), (ordered, None, False)):
        part = min(ticks, left)
        left -= part
        taken = min(shipped, part)
        shipped -= taken
        if part > taken:
            found.append(Coming(part - taken, on, said))
    return tuple(found)
