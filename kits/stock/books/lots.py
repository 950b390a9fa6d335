"""Lots: what they are called where nobody named them, and how long they can be used."""

from __future__ import annotations

from datetime import date, timedelta


def lot_named(lot: str, expires: date | None) -> str:
    """Return a lot's code: as named, else by its last usable day, which tells it from others."""
    return lot or (f"to {expires:%Y-%m-%d}" if expires else "")


def last_usable_day(made: date | None, expires: date | None, shelf_life_days: int | None) -> date | None:
    """Return the day printed as `expires`, else the day made plus the item's shelf life, else None."""
    if expires is not None or made is None or shelf_life_days is None:
        return expires
    return made + timedelta(days=shelf_life_days)
