"""Where the next cable comes off a reel: by tape, or at which printed mark."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from reels.ledger.entries import ReelEntry
from reels.ledger.marks.next_cut import next_cut
from reels.ledger.queries import cuts_of_set, hands_of
from takeoff.runs.models import Conductor
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class ToldCut:
    """
    How to cut one length.

    length : as it is taped, never shorter than needed. [ticks] by_tape : tape it, cut there, then read the mark: the
    reel has no factor yet, or this is the first of its set off this reel. begins : the mark where the cable begins.
    at : the mark to cut at, where nobody tapes too; "" where the marks left do not hold it, or there are none.
    """

    length: int
    by_tape: bool
    begins: str
    at: str


def where_to_cut(site: Site, entry: ReelEntry, conductor: Conductor, need: int) -> ToldCut:
    """Return how to cut a length for a conductor off a reel as it stands. need : [ticks]"""
    hands, marks = hands_of(site), entry.marks
    mine = cuts_of_set(entry, conductor)
    told = next_cut(marks, entry.books, mine, need, Fraction(site.mark_allowance), hands)
    begins, at = ("" if mark is None else hands.told(mark, marks) for mark in (told.begins, told.at))
    return ToldCut(told.length, told.by_tape, begins, at)
