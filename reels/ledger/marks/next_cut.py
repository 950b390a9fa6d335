"""How the next length is cut off a reel: by tape or at a mark. The same is in marks.js, for phones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reels.ledger.marks.line import ReelBooks
from reels.ledger.marks.printed import CutMarks, ReelMarks
from reels.ledger.marks.reading import Hands, mark_to_cut_at


@dataclass(frozen=True, slots=True)
class NextCut:
    """
    How one length is cut.

    length : as it is taped, never shorter than needed. [ticks] by_tape : tape it, cut there, then read the mark.
    begins : the mark at which the cable begins, None without marks. at : the mark to cut at where nobody tapes, None
    where the marks left do not hold it. [mark ticks] left : on the reel after it. [ticks]
    """

    length: int
    by_tape: bool
    begins: int | None
    at: int | None
    left: int


def next_cut(
    reel: ReelMarks, books: ReelBooks, mine: Sequence[CutMarks], need: int, allowance: Fraction, hands: Hands
) -> NextCut:
    """
    Return how to cut a need off a reel as it stands. need : [ticks]

    mine : what was cut off this reel for the same set. Its first cut is by tape, as all are until the reel has a
    factor. Where nobody taped it, all of the set that comes off this reel keeps the allowance, so that it is equal.
    """
    untaped = bool(mine) and all(cut.taped is None for cut in mine)
    length = hands.up(need)
    told = replace(books, factor=None) if untaped else books
    return NextCut(
        length=length,
        by_tape=not reel.has_marks or (not untaped and (books.factor is None or not mine)),
        begins=reel.mark_at(books.outermost) if reel.has_marks else None,
        at=mark_to_cut_at(reel, told, need, allowance, hands),
        left=max(0, books.left - length),
    )
