"""Lots: what they are called where nobody named them, and how long they can be used."""

from __future__ import annotations

from datetime import date, timedelta


def runs_named(lot: str) -> tuple[str, ...]:
    """
    Return the names of the runs that a lot of what is made for runs names, as written.

    >>> runs_named("CB-01, CB-02")
    ('CB-01', 'CB-02')
    """
    return tuple(filter(None, (name.strip() for name in lot.split(","))))


def fitting(run: str, lot: str) -> int | None:
    """Return for how many runs a lot was made, where a run is one of them; None where it is not."""
    named = {name.casefold() for name in runs_named(lot)}
    return len(named) if run.casefold() in named else None


def lot_named(lot: str, expires: date | None) -> str:
    """Return a lot's code: as named, else by its last usable day, which tells it from others."""
    return lot or (f"to {expires:%Y-%m-%d}" if expires else "")


def last_usable_day(made: date | None, expires: date | None, shelf_life_days: int | None) -> date | None:
    """Return the day printed as `expires`, else the day made plus the item's shelf life, else None."""
    if expires is not None or made is None or shelf_life_days is None:
        return expires
    return made + timedelta(days=shelf_life_days)
