"""
The dates that matter once a delivery is signed for, and once a claim is filed. Pure; the carrier's own terms govern.

Concealed damage: 5 business days from delivery, NMFC item 300135-A (effective 2015-04-18; 15 days before). Claim:
a carrier may not set less than 9 months, 49 U.S.C. 14706(e); carriers commonly print 9 months from delivery. Both
limits are settings of the site. What a supplier's own terms of sale set, and from which day, is the supplier's; where
both are known the earlier leads. That a month too short for the day ends the limit on its last day is our convention.
A claim that was filed is acknowledged within 30 days and paid, declined or met with an offer within 120: the rules for
claims of NMF 100-AO, as they are summarised. For suit a carrier may not set less than 2 years from when it declined in
writing, 49 U.S.C. 14706(e).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta

from takeoff.units.days import add_business_days, add_months

ACKNOWLEDGE_DAYS = 30
DECIDE_DAYS = 120
SUIT_MONTHS = 24

CONCEALED_SOURCE = "NMFC item 300135-A"
CLAIM_SOURCE = "49 U.S.C. 14706(e)"
NOTICE_SOURCE = "the supplier's own terms"
ANSWER_SOURCE = "rules for claims of NMF 100-AO, as summarised"


@dataclass(frozen=True, slots=True)
class Notice:
    """The last day to tell somebody of hidden damage, and who sets it."""

    by: date
    whom: str
    source: str


@dataclass(frozen=True, slots=True)
class Deadlines:
    """
    The last days to report concealed damage to the carrier and to file a claim.

    notice : to report it to the supplier, by the supplier's own terms; None where those are not known.
    """

    concealed: date
    claim: date
    notice: date | None = None

    @property
    def notices(self) -> list[Notice]:
        """Who is to be told of hidden damage, the earlier day first."""
        told = [Notice(self.concealed, "carrier", CONCEALED_SOURCE)]
        if self.notice:
            told.append(Notice(self.notice, "supplier", NOTICE_SOURCE))
        return sorted(told, key=lambda one: one.by)


def deadlines(
    delivered: date,
    *,
    concealed_days: int = 5,
    claim_months: int = 9,
    holidays: Collection[date] = (),
    notice_days: int | None = None,
) -> Deadlines:
    """
    Return the dates that follow from a delivery.

    concealed_days : business days, Saturdays, Sundays and `holidays` left out. claim_months : calendar months.
    notice_days : days of the calendar that the supplier gives, None where nobody knows.
    """
    concealed = add_business_days(delivered, concealed_days, holidays)
    notice = None if notice_days is None else delivered + timedelta(days=notice_days)
    return Deadlines(concealed, add_months(delivered, claim_months), notice)


@dataclass(frozen=True, slots=True)
class Answers:
    """The days by which a carrier should say that it has a claim, and what it decides: limits to watch."""

    acknowledge: date
    decide: date


def answers_due(filed: date) -> Answers:
    """
    Return by when a claim that was filed should be answered, in days of the calendar.

    >>> answers_due(date(2024, 3, 4))
    Answers(acknowledge=datetime.date(2024, 4, 3), decide=datetime.date(2024, 7, 2))
    """
    return Answers(filed + timedelta(days=ACKNOWLEDGE_DAYS), filed + timedelta(days=DECIDE_DAYS))


def suit_by(declined: date) -> date:
    """Return the last day on which a court can still be asked, counted from when a claim was declined in writing."""
    return add_months(declined, SUIT_MONTHS)
