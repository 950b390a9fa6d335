"""Where the next cable comes off a reel: by tape, or at which printed mark."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from reels.ledger.marks.reading import mark_to_cut_at
from reels.ledger.queries import ReelEntry, hands_of, set_name
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


def where_to_cut(site: Site, entry: ReelEntry, conductor: Conductor | None, need: int) -> ToldCut:
    """Return how to cut a length off a reel as it stands. need : [ticks]"""
    hands, marks, books = hands_of(site), entry.marks, entry.books
    target = mark_to_cut_at(marks, books, need, Fraction(site.mark_allowance), hands)
    return ToldCut(
        length=hands.up(need),
        by_tape=not marks.has_marks or books.factor is None or not _begun(entry, conductor),
        begins=hands.told(marks.mark_at(books.outermost), marks) if marks.has_marks else "",
        at="" if target is None else hands.told(target, marks),
    )


def _begun(entry: ReelEntry, conductor: Conductor | None) -> bool:
    """Return whether something of a conductor's set came off this reel before; where it is for none, nothing asks."""
    if conductor is None:
        return True
    wanted = conductor.run_id, set_name(conductor.name)
    made = (cut.conductor for cut in entry.cuts if cut.conductor is not None)
    return any((one.run_id, set_name(one.name)) == wanted for one in made)
