"""When something happened, by a device whose clock may be wrong."""

from __future__ import annotations

from datetime import datetime, timedelta

# What sending takes; an offset below it is the network's, not the clock's.
SENDING = timedelta(seconds=5)
SHOWN_FROM = timedelta(minutes=2)


def offset(clock: datetime | None, received: datetime) -> timedelta:
    """
    Return how far a device's clock is behind the server's, to the second; nothing where it is not said or too small.

    clock : what it showed at sending. received : when the server got it.
    """
    if clock is None or abs(received - clock) < SENDING:
        return timedelta()
    return timedelta(seconds=round((received - clock).total_seconds()))


def corrected(at: datetime, clock: datetime | None, received: datetime) -> datetime:
    """
    Return when it happened by the server's clock, never after it was received.

    >>> from datetime import UTC
    >>> nine, ten = datetime(2026, 3, 2, 9, tzinfo=UTC), datetime(2026, 3, 2, 10, tzinfo=UTC)
    >>> corrected(nine, nine + timedelta(minutes=5), ten).isoformat()
    '2026-03-02T09:55:00+00:00'
    """
    return min(at + offset(clock, received), received)


def offset_in_words(behind: timedelta) -> str:
    """Return what a person should know of a device's clock, "" below two minutes."""
    if abs(behind) < SHOWN_FROM:
        return ""
    minutes = round(abs(behind).total_seconds() / 60)
    told = f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"
    return f"The clock of the phone was {told} {'slow' if behind > timedelta() else 'fast'}; the time was put right."
