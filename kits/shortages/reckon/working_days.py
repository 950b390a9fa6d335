"""
Lead times and the days on which a site works: Monday to Friday, its holidays left out.

A lead time counts calendar days or, where the supplier says so, working days. None stands for what nobody gave: it is
not known, never 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True, slots=True)
class LeadTime:
    """How long goods take from order to delivery. `working`: counted in working days."""

    days: int
    working: bool = False


@dataclass(frozen=True, slots=True)
class WorkingDays:
    """The working days of a site; `holidays` are those that it does not work besides Saturdays and Sundays."""

    holidays: tuple[date, ...] = ()

    def on_or_before(self, day: date) -> date:
        """Return the last working day up to `day`."""
        return self._offset(day, 0, roll="backward")

    def after(self, day: date, lead: LeadTime) -> date:
        """
        Return the day on which goods that are ordered on `day` are here.

        Working days are counted as the supplier's, from the first one on or after `day` (numpy.busday_offset); the
        site's holidays stand for the supplier's, which nobody told.

        >>> WorkingDays().after(date(2026, 12, 4), LeadTime(5, working=True))  # a Friday
        datetime.date(2026, 12, 11)
        """
        return self._offset(day, lead.days, roll="forward") if lead.working else day + timedelta(days=lead.days)

    def before(self, day: date, lead: LeadTime) -> date:
        """
        Return the last working day on which an order brings goods by `day`.

        >>> WorkingDays().before(date(2026, 12, 15), LeadTime(2))  # a Tuesday; the 13th is a Sunday
        datetime.date(2026, 12, 11)
        """
        if lead.working:
            return self._offset(day, -lead.days, roll="backward")
        return self.on_or_before(day - timedelta(days=lead.days))

    def _offset(self, day: date, days: int, *, roll: str) -> date:
        import numpy as np  # only for who counts such days: it is slow to load

        found = np.busday_offset(np.datetime64(day), days, roll=roll, holidays=list(self.holidays))  # type: ignore[call-overload]
        return date.fromisoformat(str(found))
